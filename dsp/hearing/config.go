package hearing

import (
	"fmt"

	"quietcross/dsp/level"
)

// DefaultSPL is the level of a full-scale sine where none is known, BS.1387,
// 2.1.3.
const DefaultSPL level.DB = 92

// Playback levels that the model accepts. Above 110 dB the upper slope of
// spreading loses its meaning, and listening is dangerous.
const (
	MinimumSPL level.DB = 20
	MaximumSPL level.DB = 110
)

// Config says what is compared and how loudly it is played.
type Config struct {
	// Rate is the sampling rate in hertz and must be 48000; convert others
	// before.
	Rate float64
	// PlaybackSPL is the level of a full-scale sine at the listener in dB SPL,
	// 20 to 110; 0 stands for [DefaultSPL]. See [SPL].
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
		return c, fmt.Errorf("hearing: rate %g Hz: the ear model needs %d Hz", c.Rate, Rate)
	}
	if c.Channels != 1 && c.Channels != 2 {
		return c, fmt.Errorf("hearing: %d channels: the ear model takes 1 or 2", c.Channels)
	}
	if c.PlaybackSPL == 0 {
		c.PlaybackSPL = DefaultSPL
	}
	if err := CheckSPL(c.PlaybackSPL); err != nil {
		return c, fmt.Errorf("hearing: %w", err)
	}
	return c, nil
}

// CheckSPL returns an error that says what is legal for a playback level that the
// model does not accept.
func CheckSPL(spl level.DB) error {
	if !(spl >= MinimumSPL && spl <= MaximumSPL) {
		return fmt.Errorf("playback level of %g dB SPL: legal are %g to %g", float64(spl), float64(MinimumSPL), float64(MaximumSPL))
	}
	return nil
}
