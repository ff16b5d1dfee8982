package shape

// Route is the whole oversampled way of one channel through several laws, block by
// block: a Source and for each law a Branch, as the tests need it.
type Route struct {
	source   *Source
	branches []*Branch
	high     []float64
	latency  int
}

// NewRoute returns a Route through the laws at an oversampling of 1, 2, 4, 8, 16
// or 32; it panics on any other.
func NewRoute(laws []*Law, oversample int) *Route {
	r := &Route{source: NewSource(oversample), high: make([]float64, block*oversample), latency: Latency(oversample)}
	for _, l := range laws {
		r.branches = append(r.branches, NewBranch(l, oversample))
	}
	return r
}

// Latency returns the delay in whole base-rate samples.
func (r *Route) Latency() int { return r.latency }

// Reset returns to the state of endless silence.
func (r *Route) Reset() {
	r.source.Reset()
	for _, b := range r.branches {
		b.Reset()
	}
}

// Process sends src through every law: dst[i] receives the output of law i. There
// must be one dst for each law, each as long as src, or it panics. A dst must
// not overlap src.
func (r *Route) Process(dst [][]float64, src []float64) {
	if len(dst) != len(r.branches) {
		panic("shape: Route.Process: one dst is needed for each law")
	}
	for _, d := range dst {
		if len(d) != len(src) {
			panic("shape: Route.Process: dst and src differ in length")
		}
	}
	for at := 0; at < len(src); at += block {
		end := min(at+block, len(src))
		high := r.high[:(end-at)*r.source.oversample]
		r.source.Process(high, src[at:end])
		for i, b := range r.branches {
			b.Process(dst[i][at:end], high)
		}
	}
}
