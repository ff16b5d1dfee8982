package align

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// Options say what lies between reference and capture.
type Options struct {
	// LinearTaps asks for the linear response as a filter of that many taps (odd,
	// 3 to 1025), centred; 0 asks for none.
	LinearTaps int
}

// Result is a capture explained by its reference:
//
//	capture[n] = Gain · reference((1+Drift)·n - Delay) + DC + residual.
type Result struct {
	Delay    float64 // samples of the reference, positive when the capture starts late in its own time
	Drift    float64 // how much faster the reference runs than the capture's clock; 1e-6 is 1 ppm
	Gain     float64 // negative for inverted polarity
	DC       float64
	Inverted bool

	// Standard uncertainties, as if the residual were white noise.
	DelaySigma, DriftSigma, GainSigma float64

	From, To int       // the frames of the capture that the reference covers
	Aligned  []float64 // what the reference becomes there: its interpolation times Gain, plus DC
	Residual []float64 // capture less Aligned

	// Response is the linear response beyond delay and gain, tap by tap, the
	// centre tap near 1; nil unless asked for. NonlinearResidual is what remains
	// of the residual behind it, over the frames From+len(Response)/2 to
	// To-len(Response)/2.
	Response          []float64
	NonlinearResidual []float64

	Correlation float64  // magnitude of the best normalised correlation of a stretch
	Warnings    []string // what makes the figures less than they seem
}

// Align finds the reference in the capture, both at one rate. The capture may
// start before or after the reference, run at a clock up to 500 ppm off, be
// inverted, scaled and distorted. It returns an error when either is silent,
// constant, not finite or shorter than 512 samples, or when the reference is not
// found ([ErrNotFound]). It panics on LinearTaps outside the legal values.
func Align(reference, capture []float64, o Options) (*Result, error) {
	if n := o.LinearTaps; n != 0 && (n < 3 || n > 1025 || n%2 == 0) {
		panic(fmt.Sprintf("align: %d taps, legal are 0 and odd numbers from 3 to 1025", n))
	}
	if err := check("reference", reference); err != nil {
		return nil, err
	}
	if err := check("capture", capture); err != nil {
		return nil, err
	}
	tracks, err := locate(reference, capture)
	if err != nil {
		return nil, err
	}
	r, err := best(reference, capture, tracks)
	if err != nil {
		return nil, err
	}
	if o.LinearTaps > 0 {
		if err := r.explain(o.LinearTaps); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// best refines the tracks in turn and returns the first that leaves little, or
// else the one that leaves least.
func best(reference, capture []float64, tracks []track) (*Result, error) {
	const little = 0.1
	var best *Result
	var failure error
	for _, t := range tracks {
		f := newFit(reference, capture, t)
		if err := f.refine(); err != nil {
			failure = err
			continue
		}
		r := f.result(t)
		if best == nil || r.ResidualRatio() < best.ResidualRatio() {
			best = r
		}
		if best.ResidualRatio() < little {
			break
		}
	}
	if best == nil {
		return nil, failure
	}
	return best, nil
}

// minimumSamples is the shortest signal that can be aligned.
const minimumSamples = 512

func check(name string, x []float64) error {
	if len(x) < minimumSamples {
		return fmt.Errorf("align: the %s has %d samples, at least %d are needed", name, len(x), minimumSamples)
	}
	constant := true
	for i, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("align: sample %d of the %s is %g, want a finite number", i, name, v)
		}
		constant = constant && v == x[0]
	}
	if constant {
		return fmt.Errorf("align: the %s is silent or constant", name)
	}
	return nil
}

func (f *fit) result(t track) *Result {
	r := &Result{
		Delay: -f.position(0), Drift: f.drift, Gain: f.gain, DC: f.dc, Inverted: f.gain < 0,
		DriftSigma: f.sigma(1) / f.spanScale, GainSigma: f.sigma(2),
		From: f.from, To: f.to, Correlation: math.Abs(t.correlation),
	}
	r.DelaySigma = math.Hypot(f.sigma(0), r.DriftSigma*f.middle)
	r.Aligned, r.Residual = make([]float64, f.to-f.from), make([]float64, f.to-f.from)
	for i := range r.Aligned {
		value, _ := at(f.reference, f.position(f.from+i))
		r.Aligned[i] = f.gain*value + f.dc
		r.Residual[i] = f.capture[f.from+i] - r.Aligned[i]
	}
	if t.rival > 0.98*math.Abs(t.correlation) {
		r.Warnings = append(r.Warnings, "the signal repeats itself: the delay may be wrong by whole periods")
	}
	if covered := float64(f.to-f.from) / float64(min(len(f.capture), len(f.reference))); covered < 0.9 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("reference and capture overlap in only %.0f %% of the shorter one", 100*covered))
	}
	if s := r.ResidualRatio(); s > 0.5 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the residual is %.0f %% of the signal: the match is poor", 100*s))
	}
	return r
}

// ResidualRatio returns the RMS of the residual over that of the aligned
// reference, DC apart.
func (r *Result) ResidualRatio() float64 {
	return rmsAC(r.Residual) / rmsAC(r.Aligned)
}

// NonlinearRatio returns the RMS of what no linear response explains over that of
// the aligned reference. Noise counts as nonlinear: one capture cannot tell them
// apart. Without a response it is [Result.ResidualRatio].
func (r *Result) NonlinearRatio() float64 {
	if r.Response == nil {
		return r.ResidualRatio()
	}
	return rmsAC(r.NonlinearResidual) / rmsAC(r.Aligned)
}

// NonlinearShare returns which part of the residual's power no linear response
// explains, 0 to 1.
func (r *Result) NonlinearShare() float64 {
	share := r.NonlinearRatio() / r.ResidualRatio()
	return min(1, share*share)
}

func rmsAC(x []float64) float64 {
	mean, rms := level.Mean(x), level.RMS(x)
	return math.Sqrt(max(0, rms*rms-mean*mean))
}
