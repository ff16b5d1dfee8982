package render

import (
	"math"
	"slices"

	"quietcross/corpus"
	"quietcross/stage"
	"quietcross/stage/heat"
)

// A histogram counts how often a programme is at each stage input, so that the
// mean power of a stage without memory can be had from its power at each input.
type histogram struct {
	lo, perBin float64 // V
	counts     []int64
}

const histogramBins = 1 << 13

func newHistogram(lo, hi float64) *histogram {
	return &histogram{lo: lo, perBin: (hi - lo) / histogramBins, counts: make([]int64, histogramBins)}
}

// add counts inputs in volts; those beyond the ends count as at the ends.
func (h *histogram) add(x []float64) {
	scale := 1 / h.perBin
	for _, v := range x {
		h.counts[min(max(int((v-h.lo)*scale), 0), histogramBins-1)]++
	}
}

// mean returns the mean over all that was counted of f at the middle of each bin.
func (h *histogram) mean(f func(in float64) float64) float64 {
	sum, total := 0.0, int64(0)
	for i, n := range h.counts {
		if n > 0 {
			sum += float64(n) * f(h.lo+(float64(i)+0.5)*h.perBin)
			total += n
		}
	}
	if total == 0 {
		return 0
	}
	return sum / float64(total)
}

// A powerTable holds a stage's powers over its input, at points that stand closer
// together about 0, where the devices hand over.
type powerTable struct {
	hi      float64
	supply  []float64
	load    []float64
	devices []float64   // all devices
	outputs [][]float64 // [output device][point]
}

// powerPoints is the number of points of a table, one of them at 0.
const powerPoints = 401

// newPowerTable solves a stage's powers over inputs from -hi to hi.
func newPowerTable(b *stage.Biased, hi float64) (*powerTable, error) {
	t := &powerTable{hi: hi, outputs: make([][]float64, len(b.Outputs()))}
	for i := range powerPoints {
		u := 2*float64(i)/(powerPoints-1) - 1
		p, err := b.Instant(hi * u * u * u)
		if err != nil {
			return nil, err
		}
		t.supply = append(t.supply, p.Supply)
		t.load = append(t.load, p.Load)
		t.devices = append(t.devices, p.Dissipation())
		for k, device := range b.Outputs() {
			t.outputs[k] = append(t.outputs[k], p.Devices[device].Mean)
		}
	}
	return t, nil
}

// at reads a column of the table between its points.
func (t *powerTable) at(column []float64) func(in float64) float64 {
	return func(in float64) float64 {
		position := (math.Cbrt(in/t.hi) + 1) / 2 * (powerPoints - 1)
		i := min(max(int(position), 0), powerPoints-2)
		share := position - float64(i)
		return column[i]*(1-share) + column[i+1]*share
	}
}

// power returns the mean powers of a programme and the junction temperature that
// they settle at.
func (t *powerTable) power(h *histogram, chain heat.Chain) *corpus.Power {
	p := &corpus.Power{
		Supply:      h.mean(t.at(t.supply)),
		Load:        h.mean(t.at(t.load)),
		Dissipation: h.mean(t.at(t.devices)),
	}
	if p.Supply > 0 {
		p.Efficiency = p.Load / p.Supply
	}
	var outputs []float64
	for _, column := range t.outputs {
		outputs = append(outputs, h.mean(t.at(column)))
	}
	p.Junction = slices.Max(chain.Steady(outputs...).Junctions)
	return p
}

// openLedger starts to account for the energy of a dynamic branch's first
// channel; accounting for all would tell little more and cost much.
func (b *branch) openLedger() {
	if p, ok := b.processors[0].(*timeProcessor); ok {
		if dynamic, ok := p.stage.(*stage.Dynamic); ok {
			p.ledger = dynamic.OpenLedger()
		}
	}
}

// ledgerPower returns the mean powers of a dynamic branch, nil where its energy
// was not accounted for.
func (b *branch) ledgerPower(biased *stage.Biased, chain heat.Chain) *corpus.Power {
	p, ok := b.processors[0].(*timeProcessor)
	if !ok || p.ledger == nil || p.ledger.Seconds == 0 {
		return nil
	}
	var power corpus.Power
	power.Supply, _, power.Load, power.Dissipation = p.ledger.Powers()
	if power.Supply > 0 {
		power.Efficiency = power.Load / power.Supply
	}
	var outputs []float64
	for _, device := range biased.Outputs() {
		outputs = append(outputs, p.ledger.Devices[device]/p.ledger.Seconds)
	}
	power.Junction = slices.Max(chain.Steady(outputs...).Junctions)
	if dynamic, ok := p.stage.(*stage.Dynamic); ok {
		power.Excursion = dynamic.Excursion()
	}
	if p.warmth != nil {
		power.Reached = max(p.warmth.Temperatures.Upper, p.warmth.Temperatures.Lower)
	}
	return &power
}

// tooHot tells that a drifting stage passed its maximum junction temperature.
func (b *branch) tooHot() bool {
	return slices.ContainsFunc(b.processors, func(p processor) bool {
		t, ok := p.(*timeProcessor)
		return ok && t.warmth != nil && t.warmth.TooHot
	})
}
