package hearing

import (
	"math"
	"strings"
	"testing"

	"quietcross/dsp/level"
)

// Conditions reach the comparison unchanged: what is recorded is what was computed with.
func TestConditionsConfig(t *testing.T) {
	c := Conditions{Playback: 80, RoomNR: 20, Listener: Efficiency{DB: -2, Low: -3, High: -1, Trials: 50}}
	want := Config{Rate: 44100, Channels: 2, PlaybackSPL: 80, Efficiency: -2, RoomNR: 20}
	if got := c.Config(44100, 2); got != want {
		t.Errorf("configuration %+v, want %+v", got, want)
	}
	if d := DefaultConditions(); d.Playback != 92 || d.RoomNR != 15 || d.Listener != (Efficiency{}) || d.Check() != nil {
		t.Errorf("default conditions %+v", d)
	}
}

// What is not legal is named with what was found.
func TestConditionsRefused(t *testing.T) {
	for found, spoil := range map[string]func(*Conditions){
		"110.1 dB SPL":  func(c *Conditions) { c.Playback = 110.1 },
		"NaN dB SPL":    func(c *Conditions) { c.Playback = level.DB(math.NaN()) },
		"NR 60.1":       func(c *Conditions) { c.RoomNR = 60.1 },
		"NR -1":         func(c *Conditions) { c.RoomNR = -1 },
		"NR NaN":        func(c *Conditions) { c.RoomNR = math.NaN() },
		"efficiency 31": func(c *Conditions) { c.Listener.DB = 31 },
	} {
		c := DefaultConditions()
		spoil(&c)
		if err := c.Check(); err == nil || !strings.Contains(err.Error(), found) {
			t.Errorf("%s: error %v", found, err)
		}
	}
}

// A listener's own interval adds to the model's as independent errors do, by squares, on
// each side.
func TestConditionsInterval(t *testing.T) {
	reach := 1.959964 * float64(ThresholdError)
	c := DefaultConditions()
	for _, side := range []struct{ below, above level.DB }{{0, 0}, {3, 1}, {2, 6}} {
		c.Listener = Efficiency{DB: -2, Low: -2 - side.below, High: -2 + side.above, Trials: 50}
		low, high := c.Interval(0.954)
		for got, want := range map[float64]float64{
			db(0.954 / low): math.Hypot(reach, float64(side.below)), db(high / 0.954): math.Hypot(reach, float64(side.above)),
		} {
			if math.Abs(got-want) > 0.01 {
				t.Errorf("listener %+v: the interval reaches %.3f dB, want %.3f", c.Listener, got, want)
			}
		}
	}
}
