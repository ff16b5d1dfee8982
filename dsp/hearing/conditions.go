package hearing

import (
	"fmt"

	"quietcross/dsp/level"
)

// Under which conditions a prediction holds: what every result records beside it, and
// what the commands let a user say.

// DefaultRoomNR is the noise rating of the room where none is known: the loudest that
// ITU-R BS.1116 allows a listening room (from memory). In silence the model hears, in what
// the programme leaves empty, more than anyone does where music is played.
const DefaultRoomNR = 15.0

// Conditions says how loudly something is played, in which room, and who listens.
// Zero is a value like any other: begin with [DefaultConditions].
type Conditions struct {
	// Playback is the level of a full-scale sine at the listener in dB SPL, from
	// [MinimumSPL] to [MaximumSPL]. See [SPL].
	//
	// Caution: daily exposure above about 85 dB SPL damages hearing.
	Playback level.DB `json:"playback_spl_db"`
	// RoomNR is the noise rating of the room; see [Config].
	RoomNR float64 `json:"room_nr"`
	// Listener is the efficiency of the listener or panel, with its interval; no trials
	// and 0 dB is the listener of the published thresholds.
	Listener Efficiency `json:"listener"`
}

// DefaultConditions are a full-scale sine at [DefaultSPL] in a room of [DefaultRoomNR] for
// the listener of the published thresholds.
func DefaultConditions() Conditions {
	return Conditions{Playback: DefaultSPL, RoomNR: DefaultRoomNR}
}

// Config returns what compares signals of so many channels, 1 or 2, at a rate in hertz
// under the conditions.
func (c Conditions) Config(rate float64, channels int) Config {
	return Config{
		Rate: rate, Channels: channels,
		PlaybackSPL: c.Playback, Efficiency: c.Listener.DB, RoomNR: c.RoomNR,
	}
}

// Check returns an error that names the first condition that is not legal, what was found
// and what is legal.
func (c Conditions) Check() error {
	if err := CheckSPL(c.Playback); err != nil {
		return err
	}
	if err := checkRoom(c.RoomNR); err != nil {
		return err
	}
	return checkEfficiency(c.Listener.DB)
}

// checkRoom refuses a noise rating that is not legal.
func checkRoom(nr float64) error {
	if nr >= 0 && nr <= MaximumRoomNR {
		return nil
	}
	return fmt.Errorf("room of NR %g: legal are 0 to %g", nr, MaximumRoomNR)
}

// checkEfficiency refuses an efficiency that is not legal.
func checkEfficiency(e level.DB) error {
	if e >= -MaximumEfficiency && e <= MaximumEfficiency {
		return nil
	}
	return fmt.Errorf("efficiency %g dB: legal are %g to %g", float64(e), -float64(MaximumEfficiency), float64(MaximumEfficiency))
}
