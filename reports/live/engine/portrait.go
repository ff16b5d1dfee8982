package engine

import (
	"slices"

	"quietcross/stage/heat"
)

// A Portrait is a solved stage over its input, at points that stand closer together
// about 0, where the devices hand over: at the inputs Reach·u³, u even from -1 to 1.
type Portrait struct {
	Reach   float64     `json:"reach"` // V
	In      []float64   `json:"in"`
	Out     []float64   `json:"out"`  // V
	Gain    []float64   `json:"gain"` // incremental, V/V
	Devices []string    `json:"devices"`
	Current [][]float64 `json:"current"` // A, one list a device
	Power   [][]float64 `json:"power"`   // W, one list a device
	Supply  []float64   `json:"supply"`  // W
	Load    []float64   `json:"load"`    // W

	Chain heat.Chain `json:"chain"`
	Limit float64    `json:"limit"` // maximum junction temperature, K
}

// portraitPoints is the number of inputs, one of them 0.
const portraitPoints = 301

// portraitSlice is how many inputs are solved at a stretch.
const portraitSlice = 50

// Portrait solves the stage over its input. It takes about as long as a sketch, and calls
// rest, unless that is nil, several times meanwhile.
func (s *Solution) Portrait(rest func()) (*Portrait, error) {
	b := s.biased
	p := &Portrait{Reach: s.reach, Chain: b.Stage().Chain(), Limit: b.Stage().Spec().Thermal.MaximumJunction}
	for range b.Outputs() {
		p.Current = append(p.Current, nil)
		p.Power = append(p.Power, nil)
	}
	for i := range portraitPoints {
		if rest != nil && i%portraitSlice == portraitSlice-1 {
			rest()
		}
		u := 2*float64(i)/(portraitPoints-1) - 1
		in := s.reach * u * u * u
		now, err := b.Instant(in)
		if err != nil {
			return nil, err
		}
		out, gain, err := b.Transfer(in)
		if err != nil {
			return nil, err
		}
		p.In, p.Out, p.Gain = append(p.In, in), append(p.Out, out), append(p.Gain, gain)
		p.Supply, p.Load = append(p.Supply, now.Supply), append(p.Load, now.Load)
		for k, o := range b.Outputs() {
			p.Current[k] = append(p.Current[k], now.Devices[o].Current)
			p.Power[k] = append(p.Power[k], now.Devices[o].Mean)
		}
	}
	for _, o := range b.Outputs() {
		p.Devices = append(p.Devices, b.Point().Devices[o].Name)
	}
	return p, nil
}

// Warmth is what a programme does to the stage in the mean.
type Warmth struct {
	Supply   float64   `json:"supply"` // W
	Load     float64   `json:"load"`   // W
	Devices  []float64 `json:"devices"`
	Junction float64   `json:"junction"` // K, the hotter one's, were it to go on like this
	Limit    float64   `json:"limit"`    // K
}

// warmth weighs the powers by how often the programme is at each input, the share of
// time between each two points.
func (p *Portrait) warmth(share []float64) Warmth {
	mean := func(column []float64) (sum float64) {
		for i, part := range share {
			sum += part * (column[i] + column[i+1]) / 2
		}
		return sum
	}
	w := Warmth{Supply: mean(p.Supply), Load: mean(p.Load), Limit: p.Limit}
	for _, column := range p.Power {
		w.Devices = append(w.Devices, mean(column))
	}
	w.Junction = slices.Max(p.Chain.Steady(w.Devices...).Junctions)
	return w
}
