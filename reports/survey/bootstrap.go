package survey

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Intervals are those of a bootstrap over recordings (B. Efron and R. Tibshirani, An
// Introduction to the Bootstrap, 1993): as many recordings as there are, drawn from them
// with replacement, again and again, and every figure worked out of each drawing. A share
// takes the bias-corrected and accelerated interval (chapter 14), whose acceleration is,
// for a mean of zeros and ones, their skewness over 6√n; a current takes the percentile
// interval (chapter 13). Where all recordings are clean, or none, every drawing is like
// every other and tells nothing: the interval is then that of the binomial law, of which
// the one end is known.
//
// The sweep: the ends of every recording's clean stretches are sorted once; a drawing is
// a weight for each recording, and one pass over the ends in order gives its share at
// every current that is asked for and the first current at which it has reached each
// part of the library.

const (
	drawings   = 2000
	confidence = 0.95
)

// An event is a current at which something happens to the share.
type event struct {
	current   float64
	recording int // whose clean stretch begins or ends; -1 for a probe
	kind      eventKind
	probe     int // whose share is asked for
}

// eventKind orders events of one current: a stretch holds its ends.
type eventKind int

const (
	begins eventKind = iota
	asked
	ends
)

// A sweep gives the shares of drawings of one stage.
type sweep struct {
	events   []event
	count    int // of recordings
	probes   int
	quarters []float64 // the parts of the library whose current is asked for, 0 to 1
}

// A swept is what a sweep gives: the share at every probe, and the current at which each
// part of the library is reached first, +Inf where it is not.
type swept struct{ shares, currents []float64 }

// newSweep prepares the sweep over recordings' clean stretches.
func newSweep(clean [][]Span, probes, quarters []float64) *sweep {
	s := &sweep{count: len(clean), probes: len(probes), quarters: quarters}
	for i, spans := range clean {
		for _, span := range spans {
			s.events = append(s.events, event{span.From, i, begins, 0}, event{span.To, i, ends, 0})
		}
	}
	for i, p := range probes {
		s.events = append(s.events, event{p, -1, asked, i})
	}
	slices.SortFunc(s.events, func(a, b event) int {
		return cmp.Or(cmp.Compare(a.current, b.current), cmp.Compare(a.kind, b.kind), cmp.Compare(a.recording, b.recording))
	})
	return s
}

// with sweeps over a drawing: weights says how often each recording is in it.
func (s *sweep) with(weights []int) swept {
	out := swept{make([]float64, s.probes), make([]float64, len(s.quarters))}
	for i := range out.currents {
		out.currents[i] = math.Inf(1)
	}
	clean := 0
	for _, e := range s.events {
		switch e.kind {
		case asked:
			out.shares[e.probe] = float64(clean) / float64(s.count)
		case ends:
			clean -= weights[e.recording]
		case begins:
			clean += weights[e.recording]
			for i, q := range s.quarters {
				if math.IsInf(out.currents[i], 1) && float64(clean) >= q*float64(s.count)-1e-9 {
					out.currents[i] = e.current
				}
			}
		}
	}
	return out
}

// once is the drawing of the library itself.
func once(count int) []int {
	weights := make([]int, count)
	for i := range weights {
		weights[i] = 1
	}
	return weights
}

// bootstrap sweeps every drawing, the same for all sweeps, so that they can be compared:
// the result is indexed [sweep][drawing].
func bootstrap(sweeps []*sweep, seed uint64) [][]swept {
	all := make([][]swept, len(sweeps))
	count := sweeps[0].count
	random := rand.New(rand.NewPCG(seed, drawn("bootstrap")))
	weights := make([]int, count)
	for range drawings {
		clear(weights)
		for range count {
			weights[random.IntN(count)]++
		}
		for i, s := range sweeps {
			all[i] = append(all[i], s.with(weights))
		}
	}
	return all
}

// Interval is a 95 % confidence interval.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// shareInterval is the interval of the share of count recordings, from the shares of the
// drawings, which it sorts.
func shareInterval(share float64, count int, drawn []float64) Interval {
	const tail = (1 - confidence) / 2
	switch share {
	case 0:
		return Interval{0, 1 - math.Pow(tail, 1/float64(count))}
	case 1:
		return Interval{math.Pow(tail, 1/float64(count)), 1}
	}
	slices.Sort(drawn)
	below := 0.0
	for _, d := range drawn {
		if d < share-1e-12 {
			below++
		} else if d < share+1e-12 {
			below += 0.5
		}
	}
	normal := distuv.UnitNormal
	bias := normal.Quantile(below / float64(len(drawn)))
	skew := (1 - 2*share) / math.Sqrt(share*(1-share))
	acceleration := skew / (6 * math.Sqrt(float64(count)))
	at := func(p float64) float64 {
		z := bias + normal.Quantile(p)
		return stat.Quantile(normal.CDF(bias+z/(1-acceleration*z)), stat.Empirical, drawn, nil)
	}
	return Interval{at(tail), at(1 - tail)}
}

// percentiles is the interval between the outer percentiles of drawn values, which it
// sorts; an end can be infinite.
func percentiles(drawn []float64) Interval {
	slices.Sort(drawn)
	at := func(p float64) float64 { return drawn[min(int(p*float64(len(drawn))), len(drawn)-1)] }
	return Interval{at((1 - confidence) / 2), at((1 + confidence) / 2)}
}

// needed is the number of recordings from which on the current of a part q of the library
// has an upper bound of the same confidence: the maximum of n values lies above the
// quantile with the probability 1 - qⁿ (H. A. David and H. N. Nagaraja, Order Statistics,
// 2003, chapter 7).
func needed(q float64) int {
	return int(math.Ceil(math.Log((1-confidence)/2) / math.Log(q)))
}
