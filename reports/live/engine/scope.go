package engine

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/spectrum"
)

// A Scope keeps what went through a player last, of the first channel, for the figures: the
// reference, which is the input in step with the output, and the output, in volts. It also
// counts how often the input was where, forgetting by a factor e in a second. It looks at
// the sound apart from the player, which must never wait.
type Scope struct {
	rate    int
	in, out []float64 // rings
	at      int64     // the player's frames up to here were seen
	reach   float64   // of the occupancy, V
	share   []float64
	plan    *fourier.FFT
	window  []float64
}

// scopeFrames is the length of the rings: a spectrum and the sound not heard yet.
const scopeFrames = 1 << 15

// NewScope returns a scope that has seen nothing.
func NewScope() *Scope {
	return &Scope{
		plan: fourier.NewFFT(spectrumFrames), window: spectrum.BlackmanHarris4.Coefficients(spectrumFrames),
		in: make([]float64, scopeFrames), out: make([]float64, scopeFrames),
		share: make([]float64, portraitPoints-1),
	}
}

// Note takes the player's next block. It may be one that is played again; where it does not
// go on from what was seen, that is forgotten.
func (s *Scope) Note(b Passed) {
	s.follow(b.Rate, b.From)
	for i, v := range b.Out {
		at := (s.at + int64(i)) % scopeFrames
		s.in[at], s.out[at] = b.Reference[0][i], v
	}
	s.at += int64(len(b.Out))
	s.occupy(b.Reference, b.Reach)
}

// follow begins at a frame: where the scope is, or was.
func (s *Scope) follow(rate int, from int64) {
	if rate == s.rate && from <= s.at && from > s.at-scopeFrames {
		s.at = from
		return
	}
	s.rate, s.at = rate, from
	for _, list := range [][]float64{s.in, s.out, s.share} {
		clear(list)
	}
}

// occupyEvery is how many frames lie between two that are counted.
const occupyEvery = 4

// occupy counts where the input is, in the steps of a portrait that reaches so many volts.
func (s *Scope) occupy(in [][]float64, reach float64) {
	if reach != s.reach {
		s.reach = reach
		clear(s.share)
	}
	const middle = (portraitPoints - 1) / 2
	n := len(in[0])
	fresh := 1 - math.Exp(-float64(n)/(balanceSeconds*float64(s.rate)))
	for i := range s.share {
		s.share[i] *= 1 - fresh
	}
	counted := (n + occupyEvery - 1) / occupyEvery * len(in)
	for _, x := range in {
		for i := 0; i < n; i += occupyEvery {
			u := math.Cbrt(max(-1, min(1, x[i]/s.reach)))
			s.share[min(int((u+1)*middle), 2*middle-1)] += fresh / float64(counted)
		}
	}
}

// occupancy returns the share of time in each step, its sum 1 unless nothing was seen.
func (s *Scope) occupancy() []float64 {
	sum := 0.0
	for _, v := range s.share {
		sum += v
	}
	shares := make([]float64, len(s.share))
	for i, v := range s.share {
		if sum > 0 {
			shares[i] = v / sum
		}
	}
	return shares
}

// last returns a copy of the n frames of a ring that end late frames ago.
func (s *Scope) last(ring []float64, n, late int) []float64 {
	x := make([]float64, n)
	for i := range x {
		if at := s.at - int64(late) - int64(n) + int64(i); at >= 0 {
			x[i] = ring[at%scopeFrames]
		}
	}
	return x
}

// Trace is a stretch of input, output and residual in step, V. Sample i is at
// (i - Offset)/Rate seconds after the input crossed zero upward.
type Trace struct {
	In       []float64 `json:"in"`
	Out      []float64 `json:"out"`
	Residual []float64 `json:"residual"`
	Offset   float64   `json:"offset"`
}

// traceSearch is how many seconds before the end of a trace its crossing is looked for.
const traceSearch = 0.1

// trace returns some seconds of what was heard late frames ago, from a quarter before
// the last upward crossing that leaves room for the rest behind it.
func (s *Scope) trace(seconds float64, late int, fitted float64) Trace {
	n := max(16, int(seconds*float64(s.rate)))
	before := n / 4
	whole := min(scopeFrames-late-1, n+int(traceSearch*float64(s.rate)))
	in, out := s.last(s.in, whole, late), s.last(s.out, whole, late)
	at, part := before, 0.0
	for i := whole - (n - before) - 1; i > before; i-- {
		if in[i-1] < 0 && in[i] >= 0 {
			at, part = i, in[i]/(in[i]-in[i-1])
			break
		}
	}
	from := at - before
	t := Trace{In: in[from : from+n], Out: out[from : from+n], Offset: float64(before) - part}
	for i, v := range t.Out {
		t.Residual = append(t.Residual, v-fitted*t.In[i])
	}
	return t
}

// spectrumFrames is the length of a transform.
const spectrumFrames = 1 << 13

// Spectra are the levels of reference, output and residual re the drive, dB, in bands of
// equal ratio, each the strongest line in it.
type Spectra struct {
	Hertz     []float64 `json:"hertz"`
	Reference []float64 `json:"reference"`
	Output    []float64 `json:"output"`
	Residual  []float64 `json:"residual"`
}

// spectra takes them of what was heard late frames ago. Output and residual are divided
// by the fitted gain, so that the three can be compared.
func (s *Scope) spectra(drive float64, late int, fitted float64) Spectra {
	in, out := s.last(s.in, spectrumFrames, late), s.last(s.out, spectrumFrames, late)
	if fitted == 0 {
		fitted = 1
	}
	rest := make([]float64, len(in))
	for i := range in {
		in[i] /= drive
		out[i] /= drive * fitted
		rest[i] = out[i] - in[i]
	}
	var lines [3][]float64
	for i, x := range [][]float64{in, out, rest} {
		lines[i] = s.lines(x)
	}
	var result Spectra
	columns := [3]*[]float64{&result.Reference, &result.Output, &result.Residual}
	bands(len(lines[0]), float64(s.rate)/spectrumFrames, func(from, to int, hertz float64) {
		result.Hertz = append(result.Hertz, hertz)
		for i, power := range lines {
			*columns[i] = append(*columns[i], 10*math.Log10(max(slices.Max(power[from:to]), minimumLine)))
		}
	})
	return result
}

// lines returns the power of each line of x, of which 1 is a sine of amplitude 1. It is
// [spectrum.Of] with plan and window kept, for it runs many times a second.
func (s *Scope) lines(x []float64) []float64 {
	for i, w := range s.window {
		x[i] *= w
	}
	scale := 2 / (spectrumFrames * spectrum.BlackmanHarris4.CoherentGain())
	power := make([]float64, spectrumFrames/2+1)
	for i, c := range s.plan.Coefficients(nil, x) {
		power[i] = scale * scale * (real(c)*real(c) + imag(c)*imag(c))
	}
	return power
}

const (
	minimumLine  = 1e-18 // power: -180 dB
	bandRatio    = 1.02
	lowestHertz  = 20.0
	highestHertz = 20000.0
)

// bands divides lines from 20 Hz to 20 kHz into bands of a ratio, none narrower than a
// line.
func bands(lines int, width float64, each func(from, to int, hertz float64)) {
	from := int(math.Ceil(lowestHertz / width))
	for from < lines && float64(from)*width <= highestHertz {
		to := min(lines, max(from+1, int(float64(from)*bandRatio)))
		each(from, to, width*math.Sqrt(float64(from)*float64(to-1)))
		from = to
	}
}

// A View is what the figures show of the sound that is heard.
type View struct {
	Told
	Trace    Trace    `json:"trace"`
	Spectra  *Spectra `json:"spectra,omitempty"`
	Input    float64  `json:"input"`    // at the middle of the trace's time, V: the moving point
	Peak     float64  `json:"peak"`     // of the input in the last 100 ms, V
	Residual float64  `json:"residual"` // RMS re the fitted reference, 0: nothing to measure
	Warmth   *Warmth  `json:"warmth,omitempty"`
}

// View returns what had been heard when the player told of itself, late frames after they
// were made, seconds of it in the trace. Spectra cost the most, and are left out unless
// asked for.
func (s *Scope) View(told Told, late int, seconds float64, spectra bool, portrait *Portrait) View {
	if told.Rate != s.rate {
		s.follow(told.Rate, told.Through)
	}
	late = min(max(late+int(s.at-told.Through), 0), scopeFrames/2)
	v := View{Told: told, Trace: s.trace(seconds, late, told.Fitted)}
	v.measure(s.last(s.in, s.rate/10, late), s.last(s.out, s.rate/10, late))
	if spectra {
		all := s.spectra(told.Drive, late, told.Fitted)
		v.Spectra = &all
	}
	if portrait != nil && portrait.Reach == s.reach {
		w := portrait.warmth(s.occupancy())
		v.Warmth = &w
	}
	return v
}

// measure takes the figures of the last input and output, V.
func (v *View) measure(in, out []float64) {
	v.Input = in[len(in)-1]
	rest, sum := 0.0, 0.0
	for i, x := range in {
		v.Peak = max(v.Peak, math.Abs(x))
		r := out[i] - v.Fitted*x
		rest += r * r
		sum += v.Fitted * v.Fitted * x * x
	}
	if sum > 0 {
		v.Residual = math.Sqrt(rest / sum)
	}
}
