package hearing

import (
	"fmt"
	"math"
	"strconv"

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

// Interval returns the values of d' between which a prediction of d leaves what is heard,
// 95 % of the time: the model's own error, see [Interval], and the interval of the
// listener's efficiency, taken for independent. How far other listeners differ is not in
// it.
func (c Conditions) Interval(d float64) (low, high float64) {
	if c.Listener.Trials == 0 {
		return Interval(d)
	}
	wider := func(by level.DB) float64 {
		return level.DB(math.Hypot(1.96*float64(ThresholdError), float64(by))).Power()
	}
	return d / wider(c.Listener.DB-c.Listener.Low), d * wider(c.Listener.High-c.Listener.DB)
}

// String says the conditions in words.
func (c Conditions) String() string {
	number := func(x float64) string { return strconv.FormatFloat(math.Round(100*x)/100, 'f', -1, 64) }
	who := "the listener of published thresholds"
	if c.Listener.Trials > 0 {
		who = fmt.Sprintf("a listener of efficiency %s dB by %d answers", number(float64(c.Listener.DB)), c.Listener.Trials)
	}
	return fmt.Sprintf("a full-scale sine at %s dB SPL, a room of NR %s, %s", number(float64(c.Playback)), number(c.RoomNR), who)
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
