package weighting

// A recursive section waits for its own last sample. Numerator and denominator times
// A(-z)·(1 - p z⁻² + q z⁻⁴), A(z)·A(-z) being 1 + p z⁻² + q z⁻⁴, leave its response as it is and
// have it wait for the fourth last and the eighth last only, so that four samples are one
// vector (scattered look-ahead: Parhi, VLSI Digital Signal Processing Systems, 1999, chapter
// 10). The added poles are the section's own turned by quarters of a circle, so that they
// lie as far inside of it. Products are rounded before they are added, and each sample is
// made in the same order whatever its place, so that the bits depend neither on how a
// stream is cut nor on the processor.

const (
	reach = 8   // samples that a section in four looks back
	chunk = 256 // samples that it takes at a time
)

// fourfold is a section whose numerator has three coefficients, four samples at a time.
type fourfold struct {
	c    [reach + 3]float64     // of the samples, the newest first, and of the outputs 4 and 8 before
	x, y [reach + chunk]float64 // behind their past
}

func newFourfold(s section) *fourfold {
	p, q := 2*s.a2-s.a1*s.a1, s.a2*s.a2
	b := times(times(s.b, []float64{1, -s.a1, s.a2}), []float64{1, 0, -p, 0, q})
	f := &fourfold{}
	copy(f.c[:], b)
	f.c[reach+1], f.c[reach+2] = p*p-2*q, -q*q
	return f
}

// times multiplies two polynomials.
func times(a, b []float64) []float64 {
	product := make([]float64, len(a)+len(b)-1)
	for i, v := range a {
		for j, w := range b {
			product[i+j] += v * w
		}
	}
	return product
}

// process filters src into dst, which may be the same.
func (f *fourfold) process(dst, src []float64) {
	for len(src) > 0 {
		n := copy(f.x[reach:], src)
		done := f.vectors(n)
		f.plain(done, n)
		copy(dst[:n], f.y[reach:])
		copy(f.x[:reach], f.x[n:])
		copy(f.y[:reach], f.y[n:])
		dst, src = dst[n:], src[n:]
	}
}

// plain makes the outputs from one of a chunk to another.
func (f *fourfold) plain(from, to int) {
	c := &f.c
	for i := from; i < to; i++ {
		x, y := (*[reach + 1]float64)(f.x[i:]), (*[reach + 1]float64)(f.y[i:])
		y[8] = float64(c[0]*x[8]) + float64(c[1]*x[7]) + float64(c[2]*x[6]) + float64(c[3]*x[5]) + float64(c[4]*x[4]) +
			float64(c[5]*x[3]) + float64(c[6]*x[2]) + float64(c[7]*x[1]) + float64(c[8]*x[0]) +
			float64(c[10]*y[0]) + float64(c[9]*y[4])
	}
}

// resume takes over what another has seen.
func (f *fourfold) resume(other *fourfold) {
	copy(f.x[:reach], other.x[:])
	copy(f.y[:reach], other.y[:])
}

// reset forgets the past.
func (f *fourfold) reset() {
	clear(f.x[:reach])
	clear(f.y[:reach])
}
