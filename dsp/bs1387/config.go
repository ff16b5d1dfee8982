package bs1387

import (
	"fmt"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Config says what is compared and how loudly it is played.
type Config struct {
	// Rate is the sampling rate in hertz and must be 48000; convert others
	// before.
	Rate float64
	// PlaybackSPL is the level of a full-scale sine at the listener in dB SPL,
	// 20 to 110; 0 stands for [hearing.DefaultSPL]. See
	// [hearing.SPL].
	//
	// Caution: daily exposure above about 85 dB SPL damages hearing.
	PlaybackSPL level.DB
	// Channels is 1 or 2.
	Channels int
}

// checked returns the configuration with its default filled in, or an error
// that names what is wrong.
func (c Config) checked() (Config, error) {
	if c.Rate != Rate {
		return c, fmt.Errorf("bs1387: rate %g Hz: the ear model needs %d Hz", c.Rate, Rate)
	}
	if c.Channels != 1 && c.Channels != 2 {
		return c, fmt.Errorf("bs1387: %d channels: the ear model takes 1 or 2", c.Channels)
	}
	if c.PlaybackSPL == 0 {
		c.PlaybackSPL = hearing.DefaultSPL
	}
	if err := hearing.CheckSPL(c.PlaybackSPL); err != nil {
		return c, fmt.Errorf("bs1387: %w", err)
	}
	return c, nil
}
