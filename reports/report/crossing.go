package report

import (
	"math"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/resample"
)

// Crossing is the waveform around one rise of the reference through zero, from
// the audio files, band-limited to their own rate and drawn at [finer] times it.
type Crossing struct {
	// Time is that of the first value at or above zero, seconds from the start
	// of the file.
	Time float64 `json:"time_s"`
	// Step is the time between two values, s; the first stands Before steps
	// before Time.
	Step   float64 `json:"step_s"`
	Before int     `json:"before"`
	// In is the reference, and Out each rendering with matching and fitted gain
	// taken out; both at the stage's input, V.
	In  []float64   `json:"in_v"`
	Out [][]float64 `json:"out_v"`
}

const (
	finer  = 8    // steps of a crossing a sample
	around = 1024 // samples read to either side of a crossing
	closer = 6    // samples shown to either side at least
	wider  = 960  // and at most
)

// crossing (drive in V, width that of the deepest crossover, V) finds the upward crossing nearest to where the strongest residual
// peaks, and reads what every rung made of it. It returns nil when the
// reference does not cross zero there.
func (t track) crossing(s *survey, drive, width float64) (*Crossing, error) {
	if s.worst < 0 {
		return nil, nil
	}
	frame, ok, err := t.findCrossing(s)
	if err != nil || !ok {
		return nil, err
	}
	in, err := t.fine(t.item.Reference.File, s.channel, frame)
	if err != nil {
		return nil, err
	}
	scale := drive / t.item.Trim.Amplitude()
	middle := rise(in)
	half := zoom(in, middle, scale, width)
	cut := func(x []float64, gain float64) []float64 {
		part := make([]float64, 0, 2*half+1)
		for _, v := range x[middle-half : middle+half+1] {
			part = append(part, v*gain)
		}
		return part
	}
	step := 1 / (finer * float64(t.item.Rate))
	when := float64(frame)/float64(t.item.Rate) + float64(middle-len(in)/2)*step
	c := &Crossing{Time: when, Step: step, Before: half, In: cut(in, scale)}
	for _, r := range t.item.Renderings {
		out, err := t.fine(r.File, s.channel, frame)
		if err != nil {
			return nil, err
		}
		c.Out = append(c.Out, cut(out, scale/unfit(r)))
	}
	return c, nil
}

// minimumGain is the fitted gain under which a rendering holds nothing of its
// source: taking that gain out would blow rounding noise up to programme.
const minimumGain = 1e-4

// passes tells that a rendering holds something of its source.
func passes(r corpus.Rendering) bool { return math.Abs(r.Gain) >= minimumGain }

// Passes tells that the rendering holds something of its source: without that,
// what is left of it is not to be compared with the source.
func (r *Rendering) Passes() bool { return passes(r.Rendering) }

// FileGain is the gain from the reference's file to what of it is in the
// rendering's file: fitted gain and matching, polarity included.
func (r *Rendering) FileGain() float64 { return fileGain(r.Rendering) }

func fileGain(r corpus.Rendering) float64 {
	gain := r.Gain * r.Applied.Amplitude()
	if r.Inverted {
		return -gain
	}
	return gain
}

// unfit is the gain to divide a rendering by for a comparison with its
// reference: [Rendering.FileGain], or matching alone when nothing passes.
func unfit(r corpus.Rendering) float64 {
	if !passes(r) {
		return r.Applied.Amplitude()
	}
	return fileGain(r)
}

// residualGain brings a residual file to the scale of the reference file.
func residualGain(r corpus.Rendering) level.DB {
	return -r.Residual.MakeUp - level.FromAmplitude(math.Abs(unfit(r)))
}

// findCrossing returns the frame at which the reference rises to zero or above,
// nearest to the strongest sample of the strongest residual.
func (t track) findCrossing(s *survey) (frame int64, ok bool, err error) {
	from := s.peak() - s.slot
	n := 3 * s.slot
	ref, err := t.stretch(t.item.Reference.File, s.channel, from, n)
	if err != nil {
		return 0, false, err
	}
	residual, err := t.stretch(t.item.Renderings[s.worst].Residual.File, s.channel, from, n)
	if err != nil {
		return 0, false, err
	}
	strongest := 0
	for i, v := range residual {
		if math.Abs(v) > math.Abs(residual[strongest]) {
			strongest = i
		}
	}
	best := len(ref)
	for i := 1; i < len(ref); i++ {
		if ref[i-1] < 0 && ref[i] >= 0 && distance(i, strongest) < distance(best, strongest) {
			best = i
		}
	}
	return from + int64(best), best < len(ref), nil
}

func distance(a, b int) int { return max(a-b, b-a) }

// fine reads the samples around a frame at [finer] times the rate; the frame
// stands in the middle.
func (t track) fine(file string, channel int, frame int64) ([]float64, error) {
	up := resample.NewUp(finer)
	delay := up.Latency()
	lead := delay/finer + 2
	x, err := t.stretch(file, channel, frame-int64(around+lead), int64(2*(around+lead)))
	if err != nil {
		return nil, err
	}
	y := make([]float64, finer*len(x))
	up.Process(y, x)
	middle := finer*(around+lead) + delay
	return y[middle-finer*around : middle+finer*around+1], nil
}

// rise returns where a fine waveform rises through zero, at most a sample before
// its middle.
func rise(in []float64) int {
	at := len(in) / 2
	for at > len(in)/2-finer && in[at-1] >= 0 {
		at--
	}
	return at
}

// zoom returns how many steps to show to either side of the crossing at index
// at: as many as the reference needs to pass three times the width of the
// deepest crossover, but neither beyond its next crossing on the nearer side nor
// outside the bounds above.
func zoom(in []float64, at int, scale, width float64) int {
	slope := (in[at+finer/2] - in[at-finer/2]) / finer * scale
	steps := float64(wider * finer)
	if slope > 0 && width > 0 {
		steps = min(steps, 1.5*width/slope)
	}
	steps = min(steps, float64(sameSign(in, at, 1)), float64(sameSign(in, at-1, -1)))
	return max(int(steps), closer*finer)
}

// sameSign counts the steps from a place until the sign changes.
func sameSign(x []float64, from, step int) int {
	n := 0
	for i := from; i >= 0 && i < len(x) && (x[i] < 0) == (x[from] < 0); i += step {
		n++
	}
	return n
}
