package report

import (
	"fmt"
	"os"
	"path/filepath"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/stage"
)

// curvePoints is the number of points of a transfer curve: odd, so that one
// stands at zero.
const curvePoints = 241

// openStage reads the set's stage file.
func openStage(dir string) (stage.Spec, *stage.Stage, error) {
	path := filepath.Join(dir, corpus.StageFile)
	file, err := os.Open(path)
	if err != nil {
		return stage.Spec{}, nil, err
	}
	defer file.Close()
	spec, err := stage.Read(file, path)
	if err != nil {
		return spec, nil, err
	}
	st, err := stage.New(spec)
	if err != nil {
		return spec, nil, fmt.Errorf("%s: %w", path, err)
	}
	return spec, st, nil
}

// curves sets the stage to every rung and computes its transfer curve around the
// crossover, over the same inputs. A rung whose operating point or curve cannot
// be solved has none, and a warning.
func (r *Report) curves(st *stage.Stage) error {
	ladder, err := bias.NewLadder(st, &r.Drive)
	if err != nil {
		return err
	}
	span := r.span()
	r.solved = make([]*bias.Evaluation, len(r.Rungs))
	for i := range r.Rungs {
		rung := &r.Rungs[i]
		evaluation, err := ladder.At(rung.StageSetting())
		if err == nil {
			point := evaluation.Biased().Point()
			rung.Point, rung.Trimmed, r.solved[i] = &point, evaluation.Biased().Trimmed(), evaluation
			rung.Curve, err = trace(evaluation.Biased(), span)
		}
		if err != nil {
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s: no transfer curve: %v", rung.ID, err))
		}
	}
	return nil
}

// span returns the input, in volts to either side, that shows the deepest
// crossover of the ladder three times over, within the drive.
func (r *Report) span() float64 {
	if width := r.deepest(); width > 0 {
		return min(1.5*width, r.Drive)
	}
	return r.Drive
}

// deepest returns the width of the crossover at whose middle the gain is lowest
// re that at swing, V; 0 when there is no dip.
func (r *Report) deepest() float64 {
	width, minimum := 0.0, 1.0
	for _, rung := range r.Rungs {
		if ratio := rung.GainAtZero / rung.GainAtSwing; ratio < minimum && rung.CrossoverWidth > 0 {
			width, minimum = rung.CrossoverWidth, ratio
		}
	}
	return width
}

// StageSetting is the rung's setting as the stage takes it.
func (r *Rung) StageSetting() stage.Setting {
	setting, err := stage.SettingOf(r.Setting, r.Value)
	if err != nil {
		return stage.AsBuilt()
	}
	return setting
}

// trace solves the curve from -span to span.
func trace(b *stage.Biased, span float64) (*Curve, error) {
	c := &Curve{}
	for i := range curvePoints {
		in := span * (2*float64(i)/(curvePoints-1) - 1)
		out, gain, err := b.Transfer(in)
		if err != nil {
			return nil, fmt.Errorf("at %g V: %w", in, err)
		}
		c.In = append(c.In, in)
		c.Out = append(c.Out, out)
		c.Gain = append(c.Gain, gain)
	}
	return c, nil
}
