// Package streamtest checks that a streaming processor keeps the contract of the
// packages under dsp that filter sample streams: fixed ratio of lengths, same bits
// whatever the blocks, Reset as good as new, no allocation, silence in silence
// out, and no memory of a broken sample beyond the filter's own.
package streamtest

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Processor is what all such processors have.
type Processor interface {
	Process(dst, src []float64)
	Reset()
}

// Case describes a processor to Check.
type Case struct {
	New func() Processor
	// Dst and Src are the lengths that belong together: len(dst)/Dst must equal
	// len(src)/Src.
	Dst, Src int
	// Memory is the number of such units after which a sample is forgotten.
	Memory int
	// InPlace tells that dst and src may be the same slice.
	InPlace bool
	// Rest is the output in endless silence.
	Rest float64
}

// units is the length of the test signals.
const units = 1500

// Check runs every check of the contract as a subtest.
func Check(t *testing.T, c Case) {
	t.Run("blocks", c.blocks)
	t.Run("reset", c.reset)
	t.Run("silence", c.silence)
	t.Run("allocations", c.allocations)
	t.Run("not a number", c.recovers)
	t.Run("lengths", c.lengths)
	if c.InPlace {
		t.Run("in place", c.inPlace)
	}
}

func (c Case) noise() []float64 {
	rng := rand.New(rand.NewPCG(11, 13))
	x := make([]float64, units*c.Src)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

func (c Case) whole(p Processor, x []float64) []float64 {
	y := make([]float64, len(x)/c.Src*c.Dst)
	p.Process(y, x)
	return y
}

func (c Case) blocks(t *testing.T) {
	x := c.noise()
	want := c.whole(c.New(), x)
	for _, most := range []int{2, 7, 130, 600} {
		rng := rand.New(rand.NewPCG(1, uint64(most)))
		p := c.New()
		got := make([]float64, len(want))
		for at := 0; at < units; {
			end := min(units, at+rng.IntN(most))
			p.Process(got[at*c.Dst:end*c.Dst], x[at*c.Src:end*c.Src])
			at = end
		}
		same(t, got, want)
	}
}

func (c Case) reset(t *testing.T) {
	x := c.noise()
	p := c.New()
	want := c.whole(p, x)
	p.Reset()
	same(t, c.whole(p, x), want)
}

func (c Case) silence(t *testing.T) {
	for i, v := range c.whole(c.New(), make([]float64, units*c.Src)) {
		if math.Abs(v-c.Rest) > 1e-12*math.Abs(c.Rest) {
			t.Fatalf("sample %d of silence is %g, want %g", i, v, c.Rest)
		}
	}
}

func (c Case) allocations(t *testing.T) {
	x := c.noise()
	p := c.New()
	y := make([]float64, units*c.Dst)
	if n := testing.AllocsPerRun(3, func() { p.Process(y, x) }); n != 0 {
		t.Errorf("%g allocations a block", n)
	}
}

func (c Case) recovers(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64} {
		x := c.noise()
		clean := c.whole(c.New(), x)
		const at = 100
		x[at*c.Src] = bad
		spoilt := c.whole(c.New(), x)
		same(t, spoilt[(at+c.Memory)*c.Dst:], clean[(at+c.Memory)*c.Dst:])
	}
}

func (c Case) lengths(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("lengths out of ratio accepted")
		}
	}()
	c.New().Process(make([]float64, 3*c.Dst), make([]float64, 4*c.Src))
}

func (c Case) inPlace(t *testing.T) {
	x := c.noise()
	want := c.whole(c.New(), x)
	c.New().Process(x, x)
	same(t, x, want)
}

func same(t *testing.T, got, want []float64) {
	t.Helper()
	for i := range want {
		if math.Float64bits(got[i]) != math.Float64bits(want[i]) {
			t.Fatalf("sample %d is %g, want %g", i, got[i], want[i])
		}
	}
}
