package stage

import (
	"errors"
	"math"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// At each temperature of the sink the junctions settle above it: their powers ask for
// other temperatures than those that they were solved at, and the secant of the last two
// solutions leads to where they ask for no change. Where the change does not shrink on the
// way, it is taken as it is, until it does or the junctions have left for good.

const (
	junctionRuns = 400
	longestLead  = 20.0 // times the change that the powers ask for: a step of the junctions
	lackPart     = 1e-3 // of what the sink lacks: a step of the junctions that is not worth another
)

// lack returns by how much the temperature that the powers keep the sink at exceeds the
// one it has, with the junctions settled above it.
func (w *warming) lack(sink float64) (float64, error) {
	w.t.Bias = w.biasPart(sink)
	w.sink = sink
	limit := w.conditions.Maximum + beyondLimit
	var before *junctionStep
	for range junctionRuns {
		if err := w.solve(); err != nil {
			if errors.Is(err, network.ErrNoPoint) && w.hottest() > w.conditions.Maximum {
				return 0, errLeft
			}
			return 0, err
		}
		kept := w.aboveSink(sink)
		here := &junctionStep{at: [2]float64{w.t.Upper, w.t.Lower}, change: [2]float64{kept.Upper - w.t.Upper, kept.Lower - w.t.Lower}}
		step := here.after(before)
		w.t.Upper, w.t.Lower, before = w.t.Upper+step[0], w.t.Lower+step[1], here
		if w.hottest() > limit {
			return 0, errLeft
		}
		lack := w.steady().sink - sink
		if max(math.Abs(step[0]), math.Abs(step[1])) < max(settleKelvin/30, lackPart*math.Abs(lack)) {
			return lack, nil
		}
	}
	return 0, errLeft
}

// A junctionStep is where the junctions were solved, and the change of temperature that
// their powers ask for there, K.
type junctionStep struct{ at, change [2]float64 }

// after returns the step to where no change would be asked for, from this one and the
// one before: by the secant, of two junctions in the sense of least squares (D. G.
// Anderson's mixing with one step of memory, J. ACM 12, 1965). From below the secant of a
// curve that bends upward, as heating does, never passes its first rest. Where the change
// does not shrink on the way there is none to be seen, and the step is the change itself.
func (j *junctionStep) after(before *junctionStep) [2]float64 {
	if before == nil {
		return j.change
	}
	var bend, along float64
	for i := range j.change {
		less := j.change[i] - before.change[i]
		bend += less * less
		along += less * j.change[i]
	}
	if bend == 0 {
		return j.change
	}
	var step [2]float64
	var size, plain, forward float64
	for i, change := range j.change {
		step[i] = change - along/bend*(j.at[i]-before.at[i]+change-before.change[i])
		size += step[i] * step[i]
		plain += change * change
		forward += step[i] * change
	}
	if forward <= 0 || size > longestLead*longestLead*plain {
		return j.change
	}
	return step
}

// aboveSink returns the temperatures that the present powers keep the junctions at
// above a sink; of parallel devices the one that takes most counts.
func (w *warming) aboveSink(sink float64) circuits.Temperatures {
	powers := make([]float64, len(w.sides))
	for i, side := range w.sides {
		for _, o := range side {
			powers[i] = max(powers[i], w.power.Devices[o].Mean)
		}
	}
	next := w.t
	junctions := w.stage.Chain().AboveSink(sink, powers...).Junctions
	next.Upper = junctions[0]
	if len(junctions) > 1 {
		next.Lower = junctions[1]
	}
	return next
}
