package reports

import (
	"math"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/resample"
)

// Crossing is the waveform around one rise of the reference through zero, from
// the audio files, band-limited to their own rate and drawn at [finer] times it.
type Crossing struct {
	// Time is that of the crossing, seconds from the start of the file.
	Time float64 `json:"time_s"`
	// Step is the time between two values, s; the first stands Before steps
	// before the crossing's sample.
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

// crossing (drive in V, width that of the widest crossover, V) finds the upward crossing nearest to where the strongest residual
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
	half := zoom(in, scale, width)
	cut := func(x []float64, gain float64) []float64 {
		part := make([]float64, 0, 2*half+1)
		for _, v := range x[len(x)/2-half : len(x)/2+half+1] {
			part = append(part, v*gain)
		}
		return part
	}
	rate := float64(t.item.Rate)
	c := &Crossing{Time: float64(frame) / rate, Step: 1 / (finer * rate), Before: half, In: cut(in, scale)}
	for _, r := range t.item.Renderings {
		out, err := t.fine(r.File, s.channel, frame)
		if err != nil {
			return nil, err
		}
		c.Out = append(c.Out, cut(out, scale/unfit(r)))
	}
	return c, nil
}

// unfit is the gain by which a rendering's file differs from its reference:
// fitted gain and matching.
func unfit(r corpus.Rendering) float64 {
	gain := r.Gain * r.Applied.Amplitude()
	if gain == 0 || math.IsNaN(gain) || math.IsInf(gain, 0) {
		return 1
	}
	return gain
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

// zoom returns how many steps to show to either side: as many as the reference
// needs to pass three times the width of the widest crossover, but neither
// beyond its next crossing on the nearer side nor outside the bounds above.
func zoom(in []float64, scale, width float64) int {
	middle := len(in) / 2
	slope := (in[middle] - in[middle-finer]) / finer * scale
	steps := float64(wider * finer)
	if slope > 0 && width > 0 {
		steps = min(steps, 1.5*width/slope)
	}
	steps = min(steps, float64(sameSign(in, middle, 1)), float64(sameSign(in, middle-finer, -1)+finer))
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
