package stage

import "math"

// Inspection is everything that a look at a biased stage tells, as plain data.
type Inspection struct {
	Setting          string
	Point            OperatingPoint
	OptimumQuiescent float64 // A, 0: none
	GainRest         float64 // incremental gain with no signal
	GainFull         float64 // mean of the incremental gains at plus and minus the drive
	ClipLow          float64 // clipping onsets, input V
	ClipHigh         float64
	Drive            float64 // 1 dB under the nearer clipping onset, V peak
	Crossover        Crossover
	Curve            []Sample
}

// Sample is one point of the transfer curve.
type Sample struct {
	In, Out float64 // V
	Gain    float64 // incremental
}

// Inspect solves all there is to see, with points samples of the transfer curve
// evenly spaced from 5 percent beyond one clipping onset to 5 percent beyond the
// other. It panics if points is under 2.
func (b *Biased) Inspect(points int) (Inspection, error) {
	if points < 2 {
		panic("stage: an inspection needs at least 2 curve points")
	}
	i := Inspection{
		Setting: b.setting.String(), Point: b.point, OptimumQuiescent: b.stage.OptimumQuiescent(),
		ClipLow: b.clipping[0], ClipHigh: b.clipping[1], Drive: b.Drive(),
	}
	var err error
	if i.Curve, err = b.Curve(1.05*i.ClipLow, 1.05*i.ClipHigh, points); err != nil {
		return i, err
	}
	if i.Crossover, err = b.Crossover(); err != nil {
		return i, err
	}
	if _, i.GainRest, err = b.Transfer(0); err != nil {
		return i, err
	}
	for _, in := range []float64{-i.Drive, i.Drive} {
		_, gain, err := b.Transfer(in)
		if err != nil {
			return i, err
		}
		i.GainFull += gain / 2
	}
	return i, nil
}

// Curve samples the transfer curve at evenly spaced inputs from lo to hi, both
// included. It panics if points is under 2.
func (b *Biased) Curve(lo, hi float64, points int) ([]Sample, error) {
	if points < 2 {
		panic("stage: a curve needs at least 2 points")
	}
	curve := make([]Sample, points)
	for i := range curve {
		in := math.FMA(hi-lo, float64(i)/float64(points-1), lo)
		out, gain, err := b.Transfer(in)
		if err != nil {
			return nil, err
		}
		curve[i] = Sample{In: in, Out: out, Gain: gain}
	}
	return curve, nil
}
