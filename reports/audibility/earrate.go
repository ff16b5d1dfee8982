package audibility

import "quietcross/dsp/resample"

// To the ear models' rate, one channel as it streams by. Twice that rate is halved by the
// filter of the rendering's own way down, whose delay is taken out; it is as flat, and takes
// less than half the time of what converts by any ratio.

// An EarConverter brings one channel to [EarRate]. What it gives does not depend on how a
// stream is cut.
type EarConverter interface {
	// Process takes the next samples and appends to dst what they complete.
	Process(dst, src []float64) []float64
	// Flush appends to dst what is left, as if silence followed.
	Flush(dst []float64) []float64
}

// NewEarConverter returns a converter from a rate in hertz, or an error if it is outside
// [resample.MinRate] to [resample.MaxRate].
func NewEarConverter(rate int) (EarConverter, error) {
	if rate != 2*EarRate {
		return resample.NewConverter(rate, EarRate)
	}
	down := resample.NewDown(2)
	return &halver{down: down, delay: down.Latency() / 2}, nil
}

// halver halves a rate.
type halver struct {
	down  *resample.Down
	delay int       // samples of output that are still the filter's delay
	owed  int       // samples of output less those given, of what was taken
	odd   []float64 // a sample that waits for the next
}

// Process implements [EarConverter].
func (h *halver) Process(dst, src []float64) []float64 {
	if len(h.odd) == 0 {
		h.owed += (len(src) + 1) / 2
	} else {
		h.owed += len(src) / 2
	}
	return h.run(dst, src)
}

// Flush implements [EarConverter].
func (h *halver) Flush(dst []float64) []float64 {
	return h.run(dst, make([]float64, h.down.Latency()+2))
}

func (h *halver) run(dst, src []float64) []float64 {
	if len(h.odd) > 0 && len(src) > 0 {
		var one [1]float64
		h.down.Process(one[:], []float64{h.odd[0], src[0]})
		h.odd, src = h.odd[:0], src[1:]
		dst = h.give(dst, one[:])
	}
	even := len(src) &^ 1
	at := len(dst)
	dst = append(dst, make([]float64, even/2)...)
	h.down.Process(dst[at:], src[:even])
	h.odd = append(h.odd, src[even:]...)
	fresh := dst[at:]
	return h.give(dst[:at], fresh)
}

// give appends what is not the filter's delay and is owed.
func (h *halver) give(dst, fresh []float64) []float64 {
	skipped := min(h.delay, len(fresh))
	h.delay -= skipped
	fresh = fresh[skipped:]
	fresh = fresh[:min(h.owed, len(fresh))]
	h.owed -= len(fresh)
	return append(dst, fresh...)
}
