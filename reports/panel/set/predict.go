package set

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"

	"golang.org/x/sync/errgroup"

	"quietcross/dsp/bracket"
	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/reports/panel/server"
)

// By number: the detection model hears the clips that listeners hear, at the level and in
// the room in which they hear them. From little current to the optimum its d' falls; the
// predicted threshold is the last current at which it falls through the d' of the panel's
// own definition of a threshold, half of the trials of an odd one out heard after guessing
// is taken out. What of the residual is left when there is no programme to hide it is
// heard alone in the same way: under that the room and the threshold in quiet keep all
// from everybody. Grades, where listeners gave them, are predicted by ITU-R BS.1387,
// whose subject they are.

// A Want is a prediction that is asked for: of a material whose answers were given to a
// stimulus, under conditions.
type Want struct {
	Material, Stimulus string
	Heard              hearing.Conditions
	Grades             bool // predict grades too
}

const (
	predictedPoints = 11   // currents between the ends, in equal ratios
	tolerance       = 0.02 // of the logarithm of a current at a crossing
)

// Predict searches the thresholds that the model predicts, and grades. A material that is
// not in this set, or is there with another stage, drive or source than it was heard
// with, or for which there is no prediction (three channels or more), is left out, with a
// remark.
func (c *Clips) Predict(ctx context.Context, wants []Want, progress func(done, total int)) (predictions []server.Prediction, remarks []string, err error) {
	for i, want := range wants {
		p, err := c.predictOne(ctx, want)
		switch {
		case ctx.Err() != nil:
			return nil, remarks, ctx.Err()
		case err != nil:
			remarks = append(remarks, fmt.Sprintf("%s: no prediction: %v", want.Material, err))
		default:
			predictions = append(predictions, *p)
		}
		if progress != nil {
			progress(i+1, len(wants))
		}
	}
	return predictions, remarks, nil
}

// predictOne is [Clips.Predict] of one material.
func (c *Clips) predictOne(ctx context.Context, want Want) (*server.Prediction, error) {
	if err := c.same(want.Material, want.Stimulus); err != nil {
		return nil, err
	}
	e, err := c.newEar(want.Material, want.Heard)
	if err != nil {
		return nil, err
	}
	p := &server.Prediction{
		Material: want.Material, Stimulus: want.Stimulus, Heard: want.Heard, Residual: math.NaN(), Quiescent: math.NaN(), Bias: math.NaN(), Floor: math.Inf(-1),
		Method: fmt.Sprintf("detection model, a full-scale sine at %g dB SPL in a room of NR %g, an odd one out of three heard in half of the trials", math.Round(10*float64(want.Heard.Playback))/10, want.Heard.RoomNR),
	}
	currents := c.spaced()
	with, alone, err := e.survey(ctx, currents, want.Grades, p)
	if err != nil {
		return nil, err
	}
	if q, ok, err := crossing(currents, with, e.dPrime); err != nil {
		return nil, err
	} else if ok {
		_, rung, err := c.Rendering(want.Material, q)
		if err != nil {
			return nil, err
		}
		p.Residual, p.Quiescent, p.Bias = float64(rung.Residual), q, rung.Bias
	} else {
		p.Method += everywhere(with)
	}
	return p, e.floor(currents, alone, p)
}

// everywhere says why there is no threshold.
func everywhere(curve []float64) string {
	if curve[len(curve)-1] >= thresholdSensitivity() {
		return "; predicted heard at every current"
	}
	return "; predicted not heard at any current"
}

// spaced returns currents over the searched range, in equal ratios.
func (c *Clips) spaced() []float64 {
	out := make([]float64, predictedPoints)
	for i := range out {
		out[i] = c.lo * math.Pow(c.hi/c.lo, float64(i)/(predictedPoints-1))
	}
	return out
}

// thresholdSensitivity is the d' at which an odd one out of three is heard in half of
// the trials after guessing is taken out.
func thresholdSensitivity() float64 { return server.ThresholdSensitivity() }

// crossing returns the last current at which f, whose values at currents are given, falls
// through the threshold, and false when it never does.
func crossing(currents, values []float64, f func(quiescent float64) (float64, error)) (quiescent float64, ok bool, err error) {
	limit := thresholdSensitivity()
	for i := len(currents) - 1; i > 0; i-- {
		if values[i] >= limit || values[i-1] < limit {
			continue
		}
		at, err := bracket.Root(func(x float64) (float64, error) {
			d, err := f(math.Exp(x))
			return d - limit, err
		}, math.Log(currents[i-1]), math.Log(currents[i]), tolerance)
		return math.Exp(at), true, err
	}
	return 0, false, nil
}

// same refuses answers to another stimulus than this set has under the name.
func (c *Clips) same(material, stimulus string) error {
	if _, ok := c.items[material]; !ok {
		return fmt.Errorf("not in this set")
	}
	own, err := c.Stimulus(material)
	if err == nil && own != stimulus {
		err = fmt.Errorf("the answers were given to another stage, drive or source than this set has")
	}
	return err
}

// An ear hears the clips of a material under conditions. Its methods may be called by
// several goroutines at once.
type ear struct {
	clips     *Clips
	material  string
	rate      int
	heard     hearing.Conditions
	programme [][]float64        // the reference clip at the model's rate
	behind    *hearing.Reference // the same, heard
	silence   *hearing.Reference // nothing, heard
}

func (c *Clips) newEar(material string, heard hearing.Conditions) (*ear, error) {
	rate, reference, err := c.Reference(material)
	if err != nil {
		return nil, err
	}
	if n := len(reference); n > 2 {
		return nil, fmt.Errorf("%d channels; the model hears one or two", n)
	}
	e := &ear{clips: c, material: material, rate: rate, heard: heard}
	if e.programme, err = audibility.ToEarRate(reference, rate); err != nil {
		return nil, err
	}
	if e.behind, err = hearing.NewReference(e.config(), e.programme); err != nil {
		return nil, err
	}
	nothing := make([][]float64, len(e.programme))
	for c := range nothing {
		nothing[c] = make([]float64, len(e.programme[c]))
	}
	e.silence, err = hearing.NewReference(e.config(), nothing)
	return e, err
}

func (e *ear) config() hearing.Config { return e.heard.Config(bs1387.Rate, len(e.programme)) }

// rendering returns the clip at a current at the model's rate.
func (e *ear) rendering(quiescent float64) ([][]float64, error) {
	audio, _, err := e.clips.Rendering(e.material, quiescent)
	if err != nil {
		return nil, err
	}
	return audibility.ToEarRate(audio, e.rate)
}

// dPrime is the sensitivity with which the clip at a current is told from the reference.
func (e *ear) dPrime(quiescent float64) (float64, error) {
	audio, err := e.rendering(quiescent)
	if err != nil {
		return 0, err
	}
	return e.told(audio), nil
}

func (e *ear) told(audio [][]float64) float64 {
	r := e.behind.Compare(audio)
	return r.DPrime
}

// dPrimeAlone is the sensitivity for the residual of a current without the programme.
func (e *ear) dPrimeAlone(quiescent float64) (float64, error) {
	audio, err := e.rendering(quiescent)
	if err != nil {
		return 0, err
	}
	return e.toldAlone(audio), nil
}

// toldAlone hears what is left of a clip when the best-fitting gain is taken out.
func (e *ear) toldAlone(audio [][]float64) float64 {
	residual := make([][]float64, len(audio))
	for c, x := range audio {
		cross, own := 0.0, 0.0
		for i, r := range e.programme[c] {
			cross += r * x[i]
			own += r * r
		}
		gain := 0.0
		if own > 0 {
			gain = cross / own
		}
		residual[c] = make([]float64, len(x))
		for i, r := range e.programme[c] {
			residual[c][i] = x[i] - gain*r
		}
	}
	r := e.silence.Compare(residual)
	return r.DPrime
}

// survey hears every current once, with the programme and without, and predicts its grade
// if that is asked for.
func (e *ear) survey(ctx context.Context, currents []float64, grades bool, p *server.Prediction) (with, alone []float64, err error) {
	var reference *bs1387.Reference
	if grades {
		if reference, err = bs1387.NewReference(bs1387.Config{Rate: bs1387.Rate, PlaybackSPL: e.heard.Playback, Channels: len(e.programme)}, e.programme); err != nil {
			return nil, nil, err
		}
	}
	with, alone = make([]float64, len(currents)), make([]float64, len(currents))
	graded := make([]float64, len(currents))
	_, err = e.curve(ctx, currents, func(i int, q float64) (float64, error) {
		audio, err := e.rendering(q)
		if err != nil {
			return 0, err
		}
		with[i], alone[i], graded[i] = e.told(audio), e.toldAlone(audio), math.NaN()
		if grades {
			r := reference.Compare(audio)
			if g, ok := r.Grade(); ok {
				graded[i] = gradeOf(g)
			}
		}
		return 0, nil
	})
	for i, g := range graded {
		if grades && !math.IsNaN(g) {
			p.Grades = append(p.Grades, server.PredictedGrade{Quiescent: currents[i], Grade: g})
		}
	}
	return with, alone, err
}

// gradeOf returns the grade of ITU-R BS.1284 that a difference grade, 0 to -4, leaves to what
// is compared with a reference: from 5, imperceptible, to 1, very annoying.
func gradeOf(difference float64) float64 { return 5 + difference }

// floor finds the residual under which nothing is heard even without the programme.
func (e *ear) floor(currents, alone []float64, p *server.Prediction) error {
	q, ok, err := crossing(currents, alone, e.dPrimeAlone)
	if err == nil && !ok && alone[len(alone)-1] < thresholdSensitivity() {
		q, ok = currents[0], true // not even the largest residual
	}
	if err != nil || !ok {
		return err
	}
	_, rung, err := e.clips.Rendering(e.material, q)
	p.Floor = float64(rung.Residual)
	return err
}

// curve evaluates f at every current, as many at once as there are processors.
func (e *ear) curve(ctx context.Context, currents []float64, f func(i int, quiescent float64) (float64, error)) ([]float64, error) {
	out := make([]float64, len(currents))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, q := range currents {
		g.Go(func() (err error) {
			if ctx.Err() == nil {
				out[i], err = f(i, q)
			}
			return err
		})
	}
	return out, g.Wait()
}

// Sensitivities returns the d' of every trial that is asked for, at the efficiency of
// the published thresholds, each distinct one worked out once. Trials on another stimulus
// than this set has are left out, with a remark for each material.
func (c *Clips) Sensitivities(ctx context.Context, trials []server.Presented, progress func(done, total int)) (map[server.Presented]float64, []string, error) {
	type scene struct {
		material, stimulus string
		heard              hearing.Conditions
	}
	scenes := map[scene][]float64{}
	var order []scene
	for _, t := range trials {
		t.Heard.Listener = hearing.Efficiency{}
		s := scene{t.Material, t.Stimulus, t.Heard}
		if _, known := scenes[s]; !known {
			order = append(order, s)
		}
		if !slices.Contains(scenes[s], t.Quiescent) {
			scenes[s] = append(scenes[s], t.Quiescent)
		}
	}
	out, remarks := map[server.Presented]float64{}, []string(nil)
	for i, s := range order {
		values, err := c.sensitivities(ctx, s.material, s.stimulus, s.heard, scenes[s])
		switch {
		case ctx.Err() != nil:
			return nil, remarks, ctx.Err()
		case err != nil:
			remarks = append(remarks, fmt.Sprintf("%s: not used: %v", s.material, err))
		}
		for j, d := range values {
			out[server.Presented{Material: s.material, Stimulus: s.stimulus, Heard: s.heard, Quiescent: scenes[s][j]}] = d
		}
		if progress != nil {
			progress(i+1, len(order))
		}
	}
	slices.Sort(remarks)
	return out, slices.Compact(remarks), nil
}

func (c *Clips) sensitivities(ctx context.Context, material, stimulus string, heard hearing.Conditions, currents []float64) ([]float64, error) {
	if err := c.same(material, stimulus); err != nil {
		return nil, err
	}
	e, err := c.newEar(material, heard)
	if err != nil {
		return nil, err
	}
	return e.curve(ctx, currents, func(_ int, q float64) (float64, error) { return e.dPrime(q) })
}
