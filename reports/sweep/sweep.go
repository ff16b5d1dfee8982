package sweep

import (
	"context"
	"fmt"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// Options say what to sweep. Zero values stand for the defaults.
type Options struct {
	Spec stage.Spec
	// Settings are the biases; default the stage's own ladder.
	Settings []stage.Setting
	// Levels are input levels re Drive; default 0 to -60 dB in steps of 2.
	Levels []level.DB
	// Frequencies are in hertz, 1 to 20000; default 20, 1000 and 6000.
	Frequencies []float64
	// Drive is the input, V peak, at level 0; default the stage's own, 1 dB under
	// clipping.
	Drive float64
	// Workers bounds how many biases are solved at a time; default 1.
	Workers int
}

// Grid is the outcome.
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
	Label  string      `json:"label"`
	Rung   corpus.Rung `json:"rung"`
	Points []Point     `json:"points,omitempty"` // one a level
	// Refusal says why there are no points: no such operating point.
	Refusal string `json:"refusal,omitempty"`
}

// defaults fills in what was left out and checks the rest.
func (o Options) defaults(st *stage.Stage) (Options, error) {
	var err error
	if o.Drive == 0 {
		if o.Drive, err = st.Drive(); err != nil {
			return o, err
		}
	}
	if len(o.Settings) == 0 {
		if o.Settings, err = st.DefaultLadder(); err != nil {
			return o, err
		}
	}
	if len(o.Levels) == 0 {
		for l := level.DB(0); l >= -60; l -= 2 {
			o.Levels = append(o.Levels, l)
		}
	}
	if len(o.Frequencies) == 0 {
		o.Frequencies = []float64{20, 1000, 6000}
	}
	for _, f := range o.Frequencies {
		if !(f >= 1 && f <= bandHigh) {
			return o, fmt.Errorf("sweep: frequency %g Hz, legal is 1 to %d", f, bandHigh)
		}
	}
	for _, l := range o.Levels {
		if !(l >= -120 && l <= 40) {
			return o, fmt.Errorf("sweep: level %g dB, legal is -120 to 40", float64(l))
		}
	}
	if !(o.Drive > 0) || math.IsInf(o.Drive, 1) {
		return o, fmt.Errorf("sweep: drive of %g V, legal is above 0 and finite", o.Drive)
	}
	o.Workers = max(1, o.Workers)
	return o, nil
}

// Run sweeps the stage. A bias that the stage cannot take has a refusal in its
// curve; the error is for options that are not legal or a cancelled context.
func Run(ctx context.Context, o Options) (*Grid, error) {
	st, err := stage.New(o.Spec)
	if err != nil {
		return nil, err
	}
	if o, err = o.defaults(st); err != nil {
		return nil, err
	}
	bench, err := render.NewBench(render.Options{Spec: o.Spec, Drive: o.Drive, Levels: []level.DB{slices.Max(o.Levels)}})
	if err != nil {
		return nil, err
	}
	g := &Grid{
		Stage: o.Spec.Name, Drive: o.Drive, Load: o.Spec.Load.Ohms,
		Levels: o.Levels, Frequencies: o.Frequencies, Curves: make([]Curve, len(o.Settings)),
	}
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.Workers)
	for i, setting := range o.Settings {
		group.Go(func() error {
			c := Curve{Label: setting.String()}
			law, rung, err := bench.Law(setting)
			if err != nil {
				c.Refusal = err.Error()
				g.Curves[i] = c
				return ctx.Err()
			}
			c.Rung = rung
			c.Points, err = g.points(ctx, law, rung)
			g.Curves[i] = c
			return err
		})
	}
	return g, group.Wait()
}

// points computes one bias at every level.
func (g *Grid) points(ctx context.Context, law *shape.Law, rung corpus.Rung) ([]Point, error) {
	s := newSampler(law)
	points := make([]Point, 0, len(g.Levels))
	for _, l := range g.Levels {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		p := s.point(g.Drive*l.Amplitude(), g.Frequencies)
		p.Level = l
		p.Power = p.Output * p.Output / 2 / g.Load
		p.Clipped = p.Input > rung.ClipHigh || p.Input > -rung.ClipLow
		points = append(points, p)
	}
	return points, nil
}
