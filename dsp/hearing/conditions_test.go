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
