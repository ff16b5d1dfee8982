package render

import (
	"math"
	"slices"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/stage"
)

// A powerTable holds a stage's powers over its input, at points that stand closer
// together about 0, where the devices hand over.
type powerTable struct {
	hi      float64
	supply  []float64
	load    []float64
	devices []float64 // all devices
}

// powerPoints is the number of points of a table, one of them at 0.
const powerPoints = 401

// newPowerTable solves a stage's powers over inputs from -hi to hi.
func newPowerTable(b *stage.Biased, hi float64) (*powerTable, error) {
	t := &powerTable{hi: hi}
	for i := range powerPoints {
		u := 2*float64(i)/(powerPoints-1) - 1
		p, err := b.Instant(hi * u * u * u)
		if err != nil {
			return nil, err
		}
		t.supply = append(t.supply, p.Supply)
		t.load = append(t.load, p.Load)
		t.devices = append(t.devices, p.Dissipation())
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

// power returns the mean powers of a programme.
func (t *powerTable) power(h *bias.Histogram) *corpus.Power {
	p := &corpus.Power{
		Supply:      h.Mean(t.at(t.supply)),
		Load:        h.Mean(t.at(t.load)),
		Dissipation: h.Mean(t.at(t.devices)),
	}
	if p.Supply > 0 {
		p.Efficiency = p.Load / p.Supply
	}
	return p
}

// openMeter starts to take the powers of a dynamic branch's first channel; those of
// all would tell little more.
func (b *branch) openMeter() {
	if p, ok := b.processors[0].(*timeProcessor); ok {
		if dynamic, ok := p.Stage(); ok {
			p.meter = dynamic.OpenMeter()
		}
	}
}

// metered returns the mean powers of a dynamic branch, nil where they were not
// taken.
func (b *branch) metered() *corpus.Power {
	p, ok := b.processors[0].(*timeProcessor)
	if !ok || p.meter == nil || p.meter.Seconds == 0 {
		return nil
	}
	var power corpus.Power
	m := p.meter
	power.Supply, power.Load, power.Dissipation = m.Supply/m.Seconds, m.Load/m.Seconds, m.Devices/m.Seconds
	if power.Supply > 0 {
		power.Efficiency = power.Load / power.Supply
	}
	if dynamic, ok := p.Stage(); ok {
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
