package bias

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"sync"

	"quietcross/stage"
	"quietcross/stage/quantity"
)

// Thermal is where a stage comes to rest thermally at one setting, with the conditions
// that belong to the verdict: another source, load, air or drive has another.
type Thermal struct {
	Verdict stage.Verdict `json:"verdict"`
	// Source is what biases the stage, Load the load's resistance, ohms, Air the ambient
	// temperature, K, and Signal "rest", "sine" or "programme", of Peak volts at the input.
	Source stage.Source `json:"source"`
	Load   float64      `json:"load_ohm"`
	Air    float64      `json:"air_k"`
	Signal string       `json:"signal"`
	Peak   float64      `json:"peak_v"`
	// Junction is the hottest output junction and Sink the sink, K: steady, or where it
	// was given up.
	Junction float64 `json:"junction_k"`
	Sink     float64 `json:"sink_k"`
	// Quiescent is the quiescent current at these temperatures, A; Heat the mean power in
	// all devices, Supply that from all supplies, W.
	Quiescent float64 `json:"quiescent_a"`
	Heat      float64 `json:"heat_w"`
	Supply    float64 `json:"supply_w"`
	// LoopGain is the thermal loop gain there, and JunctionLoopGain that before the sink
	// and the bias part have followed; at 1 the bias runs away. Nil where there is none.
	LoopGain         *float64 `json:"thermal_loop_gain,omitempty"`
	JunctionLoopGain *float64 `json:"junction_loop_gain,omitempty"`
	// Refusal says in words, with the conditions, why such a stage must not be run.
	Refusal string `json:"refusal,omitempty"`
}

// Settles tells that the stage comes to rest within its limit.
func (t *Thermal) Settles() bool { return t.Verdict == stage.Settles }

// Runaway tells that it does not come to rest.
func (t *Thermal) Runaway() bool { return t.Verdict == stage.Runaway }

// Stability is the greater of the loop gains; infinite where there is none.
func (t *Thermal) Stability() float64 {
	if t.LoopGain == nil || t.JunctionLoopGain == nil {
		return math.Inf(1)
	}
	return max(*t.LoopGain, *t.JunctionLoopGain)
}

// Settle returns where the stage comes to rest under conditions. A stage that does not,
// or too hot, is an answer; the error is that of one that cannot be solved.
func (e *Evaluation) Settle(c stage.Conditions) (Thermal, error) {
	t, _, err := e.WarmUp(c)
	return t, err
}

// WarmUp is Settle that returns the temperatures too, as [stage.Biased.WarmUp]. What
// becomes of a stage at rest or with a sine is asked for again and again, and kept.
func (e *Evaluation) WarmUp(c stage.Conditions) (Thermal, stage.Settled, error) {
	if c.Signal.IsProgramme() {
		return answered(e.biased.WarmUp(c))
	}
	key := [3]float64{c.Air, c.Maximum, c.Signal.Peak()}
	e.mu.Lock()
	if e.warmed == nil {
		e.warmed = map[[3]float64]func() (stage.Settled, error){}
	}
	known, ok := e.warmed[key]
	if !ok {
		known = sync.OnceValues(func() (stage.Settled, error) { return e.biased.WarmUp(c) })
		e.warmed[key] = known
	}
	e.mu.Unlock()
	return answered(known())
}

// Settle is [Evaluation.Settle] of a stage on no ladder; it returns the temperatures too,
// as [stage.Stage.WarmUp].
func Settle(st *stage.Stage, setting stage.Setting, c stage.Conditions) (Thermal, stage.Settled, error) {
	return answered(st.WarmUp(setting, c))
}

// answered tells what became of a stage that warmed up.
func answered(s stage.Settled, err error) (Thermal, stage.Settled, error) {
	t := newThermal(&s)
	if errors.Is(err, stage.ErrRunaway) || errors.Is(err, stage.ErrTooHot) {
		t.Refusal, err = err.Error(), nil
	}
	return t, s, err
}

func newThermal(s *stage.Settled) Thermal {
	return Thermal{
		Verdict: s.Verdict, Source: s.Source, Load: s.Load, Air: s.Air, Signal: signalName(s.Signal), Peak: s.Signal.Peak(),
		Junction: s.Hottest(), Sink: s.Sink, Quiescent: s.Hot, Heat: s.Power.Dissipation(), Supply: s.Power.Supply,
		LoopGain: finite(s.Feedback), JunctionLoopGain: finite(s.JunctionFeedback),
	}
}

func signalName(s stage.Signal) string {
	switch {
	case s.IsProgramme():
		return "programme"
	case s.Peak() > 0:
		return "sine"
	}
	return "rest"
}

func finite(v float64) *float64 {
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return nil
	}
	return &v
}

// sineParts are the parts of the drive among which the sine that heats most is
// looked for; with an ideal pair it is 2/pi of the rails.
var sineParts = []float64{0.4, 0.5, 0.6, 2 / math.Pi, 0.7, 0.8, 0.9, 1}

// HottestSine returns the peak input, V, of the sine up to the drive that heats the
// devices most with junctions as they were set, or 0 where none heats them more than no
// signal.
func (e *Evaluation) HottestSine() (float64, error) {
	b := e.Biased()
	rest, err := b.PowerOf(stage.Sine(0))
	if err != nil {
		return 0, err
	}
	peak, most := 0.0, rest.Dissipation()
	for _, part := range sineParts {
		p, err := b.PowerOf(stage.Sine(part * e.ladder.drive))
		if err != nil {
			return 0, err
		}
		if p.Dissipation() > most {
			peak, most = part*e.ladder.drive, p.Dissipation()
		}
	}
	return peak, nil
}

// Warnings say what must be known of this setting before it is run or listened to: a
// drive beyond its own clipping onset, and a stage that does not settle, at rest or with
// a sine at the drive, in its file's own air.
func (e *Evaluation) Warnings() ([]string, error) {
	var list []string
	if e.Clips(e.ladder.drive) {
		list = append(list, fmt.Sprintf("the drive of %s peak lies beyond this setting's own clipping onset (%s and %s at the input): at full level clipping is heard, whatever the bias does",
			volts(e.ladder.drive), volts(e.ClipLow), volts(e.ClipHigh)))
	}
	for _, peak := range []float64{0, e.ladder.drive} {
		t, err := e.Settle(e.ladder.stage.Conditions(stage.Sine(peak)))
		if err != nil {
			return nil, err
		}
		if t.Refusal != "" {
			list = append(list, t.Refusal)
			break // a stage that does not settle at rest does not with a signal
		}
	}
	return list, nil
}

func volts(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	return quantity.Format(rounded, quantity.Volt)
}
