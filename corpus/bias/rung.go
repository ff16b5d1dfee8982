package bias

import (
	"quietcross/stage"
)

// Rung is the record of one bias setting: what was set, and what it gives at rest,
// around the crossover and at the drive.
type Rung struct {
	// ID names the rung in file names, for example "03-iq-118mA".
	ID string `json:"id,omitempty"`
	// Setting is "bias", "quiescent" or "as-built"; Value is what was asked
	// for, in V for bias and A for quiescent, zero for as-built.
	Setting string  `json:"setting"`
	Value   float64 `json:"value"`
	// Bias is the voltage at the stage's bias point at rest, V.
	Bias float64 `json:"bias_v"`
	// Quiescent is the resting collector current, A: the mean of the output
	// devices.
	Quiescent float64 `json:"quiescent_a"`
	// Source is what biases the stage, and Trim the part of its own that was trimmed, nil
	// where none was.
	Source stage.Source `json:"source"`
	Trim   *Trim        `json:"trim,omitempty"`
	// Condition says where the bias stands at the drive; see [stage.Classify].
	Condition stage.Condition `json:"condition"`
	// IdleDissipation is the power drawn from the supplies at rest, W.
	IdleDissipation float64 `json:"idle_dissipation_w"`
	// GainAtZero and GainAtSwing are incremental gains at rest and at the drive's
	// peaks, the mean of both sides (V/V).
	GainAtZero  float64 `json:"gain_at_zero"`
	GainAtSwing float64 `json:"gain_at_swing"`
	// MinimumGain is the incremental gain of minimum size over the drive's swing, and
	// MinimumGainAt the input it is at, V.
	MinimumGain   float64 `json:"minimum_gain"`
	MinimumGainAt float64 `json:"minimum_gain_at_v"`
	// CrossoverWidth is the width of the crossover region at half of its depth, V, and
	// DeadZone that of the zone in which the gain is under half of the full gain; see
	// [stage.Crossover]. Both are of the output stage inside a feedback loop where
	// InsideLoop says so.
	CrossoverWidth float64 `json:"crossover_width_v"`
	DeadZone       float64 `json:"dead_zone_v"`
	InsideLoop     bool    `json:"inside_loop,omitempty"`
	// ClipLow and ClipHigh are the inputs at clipping onset, V.
	ClipLow  float64 `json:"clip_low_v"`
	ClipHigh float64 `json:"clip_high_v"`
}

// Clips tells that an input peak, V, lies beyond the clipping onset of either side.
func (r *Rung) Clips(peak float64) bool { return peak > r.ClipHigh || peak > -r.ClipLow }

// Trim is the value of the bias part that a builder turns.
type Trim struct {
	Key   string  `json:"key"` // in the stage file
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// IsOptimum tells that the bias stands at the optimum.
func (r *Rung) IsOptimum() bool { return r.Condition == stage.AtOptimum }

// evaluate solves a setting.
func (l *Ladder) evaluate(setting stage.Setting) (*Evaluation, error) {
	b, err := l.stage.Set(setting)
	if err != nil {
		return nil, err
	}
	e := &Evaluation{ladder: l, biased: b}
	e.Rung, err = l.describe(b.Fork())
	return e, err
}

// describe says what a setting gives.
func (l *Ladder) describe(b *stage.Biased) (Rung, error) {
	point := b.Point()
	r := Rung{
		Setting:         b.Setting().Mode(),
		Value:           b.Setting().Value(),
		Bias:            point.Bias,
		Quiescent:       point.Quiescent,
		IdleDissipation: point.SupplyPower,
	}
	r.Source = b.Source()
	if part, ok := b.Trim(); ok {
		r.Trim = &Trim{Key: part.Key, Name: part.Name, Value: part.Value, Unit: string(part.Unit)}
	}
	var err error
	if r.Condition, err = b.Condition(l.drive); err != nil {
		return r, err
	}
	r.ClipLow, r.ClipHigh = b.Clip()
	crossover, err := b.Crossover()
	if err != nil {
		return r, err
	}
	r.CrossoverWidth, r.DeadZone, r.InsideLoop = crossover.Width, crossover.DeadZone, crossover.Inside
	r.MinimumGain, r.MinimumGainAt = crossover.Minimum, crossover.MinimumAt
	if _, r.GainAtZero, err = b.Transfer(0); err != nil {
		return r, err
	}
	for _, in := range []float64{-l.drive, l.drive} {
		_, gain, err := b.Transfer(in)
		if err != nil {
			return r, err
		}
		r.GainAtSwing += gain / 2
	}
	return r, nil
}
