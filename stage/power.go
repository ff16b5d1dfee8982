package stage

import (
	"fmt"
	"math"
	"slices"

	"quietcross/stage/network"
)

// cycleSamples is how many inputs of one sine cycle a power figure is taken
// from. They stand at the middles of equal steps, where the mean of a smooth
// periodic waveform converges faster than any power of their number.
const cycleSamples = 720

// Power is where a stage's power goes while its input is a sine.
type Power struct {
	Peak       float64 // input, V
	Output     float64 // maximum size of the output, V
	Supply     float64 // mean from all supplies, W
	Load       float64 // mean into the load, W
	Input      float64 // mean from the signal source, a feedback amplifier and an ideal bias, W
	Devices    []DevicePower
	Efficiency float64 // Load/Supply, 0 where the supply delivers nothing
	Class      Class
}

// Dissipation returns the mean power in all devices, in watts.
func (p Power) Dissipation() float64 {
	sum := 0.0
	for _, d := range p.Devices {
		sum += d.Mean
	}
	return sum
}

// Others returns the mean power in resistors other than the load, in watts: what
// the supplies and sources deliver beyond load and devices.
func (p Power) Others() float64 { return p.Supply + p.Input - p.Load - p.Dissipation() }

// DevicePower is one device over a cycle.
type DevicePower struct {
	Name       string
	Mean       float64 // mean dissipation, W
	Maximum    float64 // maximum instantaneous dissipation, W
	Current    float64 // maximum current, A
	Conduction float64 // conduction angle in radians, 0 to 2 pi
}

// Class is the way the output devices share a cycle.
type Class string

// The classes, by the minimum conduction angle among the output devices.
const (
	ClassA      Class = "A"            // all conduct all of the cycle
	ClassAB     Class = "AB"           // more than half of it
	ClassB      Class = "B"            // half of it, within 5 degrees
	UnderBiased Class = "under-biased" // less
	Silent      Class = "silent"       // none conducts to speak of
)

const (
	conducts     = 0.01             // of its maximum current: a device conducts from here
	halfCycleTol = math.Pi / 36     // 5 degrees
	wholeCycle   = 2*math.Pi - 1e-9 // a device that never leaves off
	silence      = 1e-6             // amperes that no output device reaches in silence
)

// classify names the class of output devices.
func classify(outputs []DevicePower) Class {
	minimum, maximum := 2*math.Pi, 0.0
	for _, d := range outputs {
		minimum = min(minimum, d.Conduction)
		maximum = max(maximum, d.Current)
	}
	switch {
	case maximum < silence:
		return Silent
	case minimum >= wholeCycle:
		return ClassA
	case minimum > math.Pi+halfCycleTol:
		return ClassAB
	case minimum >= math.Pi-halfCycleTol:
		return ClassB
	}
	return UnderBiased
}

// Power returns the mean powers, conduction angles and class while the input is
// a sine of peak volts, from the solved waveforms of one cycle. A device
// conducts while its current is at least 1 percent of the maximum it carries
// in the cycle. The rails of a supply with a reservoir are those that the sine leaves
// them at. It panics if peak is negative or not finite.
func (b *Biased) Power(peak float64) (Power, error) {
	if !(peak >= 0) || math.IsInf(peak, 0) {
		panic("stage: power at a peak that is negative or not finite")
	}
	if b.sags() {
		return b.onSag(Sine(peak).coarse(), func(on *Biased) (Power, error) { return on.Power(peak) })
	}
	p := Power{Peak: peak}
	var currents [][]float64
	for _, in := range fallingHalf(peak, cycleSamples) {
		if err := b.tally(&p, in, 2.0/cycleSamples, &currents); err != nil {
			return Power{}, fmt.Errorf("power at %g V peak: %w", peak, err)
		}
	}
	for i, falling := range currents {
		rising := slices.Clone(falling)
		slices.Reverse(rising)
		currents[i] = append(falling, rising...)
	}
	p.judge(b.net.Outputs, currents, nil)
	return p, nil
}

// judge finds efficiency, conduction angles and class, from the devices' currents over
// a cycle and, unless they are evenly spaced, the steps between them.
func (p *Power) judge(outputs []int, currents [][]float64, steps []float64) {
	if p.Supply > 0 {
		p.Efficiency = p.Load / p.Supply
	}
	for i := range p.Devices {
		p.Devices[i].Conduction = conduction(currents[i], steps, conducts*p.Devices[i].Current)
	}
	list := make([]DevicePower, len(outputs))
	for i, o := range outputs {
		list[i] = p.Devices[o]
	}
	p.Class = classify(list)
}

// Instant returns the powers at one input held still: the means are the powers
// there, Peak is the size of the input, and conduction angles, class and efficiency
// are left empty. Weighed by how often a programme is at each input it gives the
// programme's mean powers.
func (b *Biased) Instant(in float64) (Power, error) {
	p := Power{Peak: math.Abs(in)}
	var currents [][]float64
	if err := b.tally(&p, in, 1, &currents); err != nil {
		return Power{}, err
	}
	return p, nil
}

// tally adds one input's part of the means, by its weight.
func (b *Biased) tally(p *Power, in, weight float64, currents *[][]float64) error {
	out, _, err := b.Transfer(in)
	if err != nil {
		return err
	}
	p.Output = max(p.Output, math.Abs(out))
	p.Load += out * out / b.stage.spec.Load.Ohms * weight
	b.enter(p, b.solver, weight, currents)
	return nil
}

// enter adds what sources deliver and devices take at a solver's solution, by its
// weight, and notes the devices' currents.
func (b *Biased) enter(p *Power, solver *network.Solver, weight float64, currents *[][]float64) {
	for _, src := range b.net.Supplies {
		p.Supply += solver.Value(src) * solver.Current(src) * weight
	}
	for _, src := range b.net.Inputs() {
		p.Input += solver.Value(src) * solver.Current(src) * weight
	}
	if feed := b.net.Amplifier; feed != nil {
		p.Input += solver.Voltage(feed.Node) * solver.Current(feed.Meter) * weight
	}
	devices := solver.Devices()
	if p.Devices == nil {
		p.Devices = make([]DevicePower, len(devices))
		*currents = make([][]float64, len(devices))
	}
	for i, d := range devices {
		p.Devices[i].add(d, weight)
		(*currents)[i] = append((*currents)[i], d.Current)
	}
}

func (d *DevicePower) add(o network.Operation, weight float64) {
	d.Name = o.Name
	d.Mean += o.Dissipation * weight
	d.Maximum = max(d.Maximum, o.Dissipation)
	d.Current = max(d.Current, o.Current)
}

// conduction returns the angle, in radians, over which a periodic waveform given
// by its samples is at or above a positive level, between samples by straight
// lines. Each sample ends a part of the period, of which steps gives the share; with
// none the samples are evenly spaced.
func conduction(samples, steps []float64, level float64) float64 {
	if level <= 0 {
		return 0
	}
	sum := 0.0
	for i, to := range samples {
		step := 1 / float64(len(samples))
		if steps != nil {
			step = steps[i]
		}
		from := samples[(i+len(samples)-1)%len(samples)]
		switch {
		case from >= level && to >= level:
			sum += step
		case from >= level || to >= level:
			sum += step * (max(from, to) - level) / math.Abs(to-from)
		}
	}
	return 2 * math.Pi * sum
}
