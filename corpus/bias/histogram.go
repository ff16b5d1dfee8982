package bias

import (
	"math"

	"quietcross/stage"
)

// A Histogram counts how often a programme is at each stage input, of which the mean
// powers of a stage without memory are a function. Bins are equally wide, with the
// mean of what fell into each; its profile joins neighbours into a few shares, so
// that a stage can be settled over it quickly.
type Histogram struct {
	lo, perBin float64 // V
	counts     []int64
	sums       []float64
}

const histogramBins = 1 << 13

// NewHistogram counts inputs from lo to hi volts.
func NewHistogram(lo, hi float64) *Histogram {
	return &Histogram{
		lo: lo, perBin: (hi - lo) / histogramBins,
		counts: make([]int64, histogramBins), sums: make([]float64, histogramBins),
	}
}

// Add counts inputs in volts; those beyond the ends count as at the ends.
func (h *Histogram) Add(x []float64) {
	scale := 1 / h.perBin
	for _, v := range x {
		i := min(max(int((v-h.lo)*scale), 0), histogramBins-1)
		h.counts[i]++
		h.sums[i] += v
	}
}

// Total returns how many inputs were counted.
func (h *Histogram) Total() int64 {
	total := int64(0)
	for _, n := range h.counts {
		total += n
	}
	return total
}

// Mean returns the mean over all that was counted of f, at the mean input of each bin;
// 0 where nothing was.
func (h *Histogram) Mean(f func(in float64) float64) float64 {
	sum, total := 0.0, int64(0)
	for i, n := range h.counts {
		if n > 0 {
			sum += float64(n) * f(h.sums[i]/float64(n))
			total += n
		}
	}
	if total == 0 {
		return 0
	}
	return sum / float64(total)
}

// profileShares is how many shares a profile has at most. They stand closer together
// about 0, where the devices hand over.
const profileShares = 128

// Profile returns the spread of what was counted, nil where nothing was.
func (h *Histogram) Profile() stage.Profile {
	total := h.Total()
	if total == 0 {
		return nil
	}
	counts, sums := make([]int64, profileShares), make([]float64, profileShares)
	reach := max(math.Abs(h.lo), math.Abs(h.lo+h.perBin*histogramBins))
	for i, n := range h.counts {
		if n > 0 {
			u := math.Cbrt(h.sums[i] / float64(n) / reach)
			k := min(int((u+1)/2*profileShares), profileShares-1)
			counts[k] += n
			sums[k] += h.sums[i]
		}
	}
	var p stage.Profile
	for k, n := range counts {
		if n > 0 {
			p = append(p, stage.Share{Volts: sums[k] / float64(n), Part: float64(n) / float64(total)})
		}
	}
	return p
}
