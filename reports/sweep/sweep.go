package sweep

import (
	"context"
	"fmt"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// Options say what to sweep; [DefaultOptions] are those of the command.
type Options struct {
	Spec stage.Spec
	// Settings are the biases; nil stands for the stage's own ladder.
	Settings []stage.Setting
	// Levels are input levels re Drive, -120 to 40 dB.
	Levels []level.DB
	// Frequencies are in hertz, 1 to 20000.
	Frequencies []float64
	// Drive is the input, V peak, at level 0; nil stands for the stage's own, 1 dB
	// under clipping as built.
	Drive *float64
	// Workers bounds how many biases are solved at a time, at least 1.
	Workers int
}

// DefaultOptions are levels from 0 to -60 dB in steps of 2 and tones of 20 Hz, 1
// and 6 kHz, two biases at a time.
func DefaultOptions(spec stage.Spec) Options {
	o := Options{Spec: spec, Frequencies: []float64{20, bias.FigureFrequency, 6000}, Workers: 2}
	for l := level.DB(0); l >= -60; l -= 2 {
		o.Levels = append(o.Levels, l)
	}
	return o
}

// check returns the first option that is not legal.
func (o *Options) check() error {
	if len(o.Levels) == 0 || len(o.Frequencies) == 0 {
		return fmt.Errorf("sweep: %d levels and %d frequencies, at least one of each is needed", len(o.Levels), len(o.Frequencies))
	}
	for _, f := range o.Frequencies {
		if !(f >= 1 && f <= bias.BandHigh) {
			return fmt.Errorf("sweep: frequency %g Hz, legal is 1 to %d", f, bias.BandHigh)
		}
	}
	for _, l := range o.Levels {
		if !(l >= -120 && l <= 40) {
			return fmt.Errorf("sweep: level %g dB, legal is -120 to 40", float64(l))
		}
	}
	if o.Workers < 1 {
		return fmt.Errorf("sweep: %d workers, legal is 1 or more", o.Workers)
	}
	return nil
}

// Grid is the outcome, with the options that it was computed with.
type Grid struct {
	Stage       string     `json:"stage"`
	Drive       float64    `json:"drive_v"`
	Load        float64    `json:"load_ohm"`
	Levels      []level.DB `json:"levels_db"`
	Frequencies []float64  `json:"frequencies_hz"`
	Curves      []Curve    `json:"curves"`
}

// Curve is one bias over all levels.
type Curve struct {
	Label  string    `json:"label"`
	Rung   bias.Rung `json:"rung"`
	Points []Point   `json:"points,omitempty"` // one a level
	// Refusal says why there are no points: no such operating point.
	Refusal string `json:"refusal,omitempty"`
}

// Point is a stage at one bias and one level.
type Point struct {
	Level level.DB `json:"level_db"`
	Input float64  `json:"in_v"` // peak
	// Tones are of this peak at each frequency of the grid.
	Tones []bias.Tone `json:"tones"`
	bias.TwoTone
	bias.Swing
	Clipped bool `json:"clipped"` // the peak lies beyond the clipping onset
}

// reference is the place of the frequency nearest to 1 kHz.
func (g *Grid) reference() int {
	best := 0
	for i, f := range g.Frequencies {
		if math.Abs(math.Log(f/bias.FigureFrequency)) < math.Abs(math.Log(g.Frequencies[best]/bias.FigureFrequency)) {
			best = i
		}
	}
	return best
}

// power is that of a tone's fundamental into the load, W.
func (g *Grid) power(t *bias.Tone) float64 { return t.Output * t.Output / 2 / g.Load }

// Run sweeps the stage. A bias that the stage cannot take has a refusal in its
// curve; the error is for options that are not legal or a cancelled context.
func Run(ctx context.Context, o Options) (*Grid, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	st, err := stage.New(o.Spec)
	if err != nil {
		return nil, err
	}
	if o.Settings == nil {
		if o.Settings, err = st.DefaultLadder(); err != nil {
			return nil, err
		}
	}
	ladder, err := bias.NewLadder(st, o.Drive)
	if err != nil {
		return nil, fmt.Errorf("sweep: %w", err)
	}
	g := &Grid{
		Stage: o.Spec.Name, Drive: ladder.Drive(), Load: o.Spec.Load.Ohms,
		Levels: o.Levels, Frequencies: o.Frequencies, Curves: make([]Curve, len(o.Settings)),
	}
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.Workers)
	for i, setting := range o.Settings {
		group.Go(func() (err error) {
			g.Curves[i], err = g.curve(ctx, ladder, setting)
			return err
		})
	}
	return g, group.Wait()
}

// curve computes one bias at every level.
func (g *Grid) curve(ctx context.Context, ladder *bias.Ladder, setting stage.Setting) (Curve, error) {
	c := Curve{Label: setting.String()}
	evaluation, err := ladder.At(setting)
	if err != nil {
		c.Refusal = err.Error()
		return c, ctx.Err()
	}
	c.Rung = evaluation.Rung
	for _, l := range ascending(g.Levels) {
		if err := ctx.Err(); err != nil {
			return c, err
		}
		p, err := g.point(evaluation, l)
		if err != nil {
			c.Points, c.Refusal = nil, err.Error()
			return c, nil
		}
		c.Points = append(c.Points, p)
	}
	c.Points = inOrder(c.Points, g.Levels)
	return c, nil
}

// ascending returns the levels from the lowest up: a solver of
// periodic states goes from one to the next.
func ascending(levels []level.DB) []level.DB {
	sorted := slices.Clone(levels)
	slices.Sort(sorted)
	return sorted
}

// inOrder returns the points in the order of the levels.
func inOrder(points []Point, levels []level.DB) []Point {
	ordered := make([]Point, len(levels))
	for i, l := range levels {
		ordered[i] = points[slices.IndexFunc(points, func(p Point) bool { return p.Level == l })]
	}
	return ordered
}

// point computes one bias at one level.
func (g *Grid) point(e *bias.Evaluation, l level.DB) (Point, error) {
	p := Point{Level: l, Input: g.Drive * l.Amplitude()}
	p.Clipped = e.Clips(p.Input)
	var err error
	if p.Tones, err = e.Tones(g.Frequencies, p.Input); err != nil {
		return p, err
	}
	if p.TwoTone, err = e.TwoTone(p.Input); err != nil {
		return p, err
	}
	p.Swing, err = e.Swing(p.Input)
	return p, err
}
