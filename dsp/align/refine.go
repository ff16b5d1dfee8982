package align

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// fit is the model capture(n) = gain·reference(centre + (1+drift)(n-middle)) + dc
// over the frames from..to of the capture.
type fit struct {
	reference, capture []float64
	middle             float64 // the frame of the capture that centre belongs to
	centre, drift      float64
	gain, dc           float64
	from, to           int
	sums               *mat.SymDense // normal matrix of the last step
	chol               mat.Cholesky
	misfit             float64 // sum of squares of the last step's residual
	count              int
	spanScale          float64 // samples from the middle to the ends, scales drift
}

// most is how many samples one step of the refinement reads; a longer capture is
// read in evenly spread blocks.
const (
	most      = 1 << 20
	blockSize = 1 << 12
)

var errSingular = errors.New("align: the signal does not fix delay, drift, gain and DC: it is constant or too simple")

// newFit starts from a track, with gain and DC by regression on it.
func newFit(reference, capture []float64, t track) *fit {
	f := &fit{reference: reference, capture: capture, middle: float64(len(capture)) / 2, drift: t.slope - 1}
	f.centre = t.start + t.slope*f.middle
	f.bound()
	f.middle = float64(f.from+f.to) / 2
	f.centre = t.start + t.slope*f.middle
	f.initialGain()
	return f
}

func (f *fit) position(n int) float64 {
	return f.centre + (1+f.drift)*(float64(n)-f.middle)
}

// bound sets from..to to the frames whose positions have all their samples.
func (f *fit) bound() {
	low := f.middle + (reach-f.centre)/(1+f.drift)
	high := f.middle + (float64(len(f.reference)-reach-1)-f.centre)/(1+f.drift)
	f.from = max(0, int(math.Ceil(low))+1)
	f.to = min(len(f.capture), int(math.Floor(high))-1)
}

// refine runs Gauss-Newton until the delay stands still.
func (f *fit) refine() error {
	const rounds, still = 25, 1e-9 // samples, at the ends
	for range rounds {
		f.bound()
		if f.to-f.from < 4*reach {
			return ErrNotFound
		}
		moved, err := f.step()
		if err != nil {
			return err
		}
		if moved < still {
			return nil
		}
	}
	return nil
}

// step solves the linearised problem for all four parameters and returns how far
// the delay moved at the worst end.
func (f *fit) step() (float64, error) {
	f.spanScale = max(float64(f.to)-f.middle, f.middle-float64(f.from))
	var sums [4][4]float64
	var right [4]float64
	f.misfit, f.count = 0, 0
	stride := max(blockSize, (f.to-f.from)/(most/blockSize))
	for block := f.from; block < f.to; block += stride {
		for n := block; n < min(block+blockSize, f.to); n++ {
			value, slope := at(f.reference, f.position(n))
			row := [4]float64{
				f.gain * slope, f.gain * slope * (float64(n) - f.middle) / f.spanScale, value, 1,
			}
			e := f.capture[n] - f.gain*value - f.dc
			f.misfit += e * e
			f.count++
			for i, a := range row {
				right[i] += a * e
				for j := i; j < 4; j++ {
					sums[i][j] += a * row[j]
				}
			}
		}
	}
	f.sums = mat.NewSymDense(4, nil)
	for i := range 4 {
		for j := i; j < 4; j++ {
			f.sums.SetSym(i, j, sums[i][j])
		}
	}
	return f.apply(right[:])
}

// apply solves the normal equations and moves the parameters, the delay by at
// most half a sample.
func (f *fit) apply(right []float64) (float64, error) {
	if !f.chol.Factorize(f.sums) {
		return 0, errSingular
	}
	var d mat.VecDense
	if err := f.chol.SolveVecTo(&d, mat.NewVecDense(4, right)); err != nil {
		return 0, errSingular
	}
	moved := math.Abs(d.AtVec(0)) + math.Abs(d.AtVec(1))
	scale := 1.0
	if moved > 0.5 {
		scale = 0.5 / moved
	}
	f.centre += scale * d.AtVec(0)
	f.drift += scale * d.AtVec(1) / f.spanScale
	f.gain += d.AtVec(2)
	f.dc += d.AtVec(3)
	return moved, nil
}

// sigma returns the standard uncertainty of parameter i (delay, drift·spanScale,
// gain, DC), as if the residual were white.
func (f *fit) sigma(i int) float64 {
	var inverse mat.SymDense
	if err := f.chol.InverseTo(&inverse); err != nil {
		return math.Inf(1)
	}
	return math.Sqrt(inverse.At(i, i) * f.misfit / float64(max(1, f.count-4)))
}

// initialGain sets gain and DC by regression at the present positions.
func (f *fit) initialGain() {
	var sx, sy, sxx, sxy, n float64
	for i := f.from; i < f.to; i++ {
		v, _ := at(f.reference, f.position(i))
		y := f.capture[i]
		sx, sy, sxx, sxy, n = sx+v, sy+y, sxx+v*v, sxy+v*y, n+1
	}
	if det := n*sxx - sx*sx; det > 0 {
		f.gain = (n*sxy - sx*sy) / det
		f.dc = (sy - f.gain*sx) / n
	}
}
