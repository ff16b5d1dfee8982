package stage

import (
	"fmt"
	"math"

	"quietcross/stage/circuits"
	"quietcross/stage/heat"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// A load line is what an output device carries against what lies across it over a cycle.
// With a resistor it is a straight line; a loudspeaker opens it to a loop, which goes
// through high voltage and high current at once. Each instant is held against the safe
// operating area with the case as warm as it is, and the worst one is that which uses most
// of what the area allows there.

// Instant is one output device at one instant.
type Instant struct {
	Device  string
	Cycle   float64 // part of the cycle that has passed, 0 to 1
	Volts   float64 // across the device
	Current float64 // A
	// Limit is the current that the safe area allows at these volts, A, By what bounds it
	// and Use the current over the limit: above 1 it is broken. All are 0 and empty without
	// a safe area.
	Limit float64
	By    heat.Limit
	Use   float64
}

// String names the instant and what it breaks.
func (i Instant) String() string {
	text := fmt.Sprintf("%s at %s and %s, %.0f degrees into the cycle: ",
		i.Device, quantity.Format(fourDigits(i.Volts), quantity.Volt), quantity.Format(fourDigits(i.Current), quantity.Ampere), 360*i.Cycle)
	if i.Use > allowsNothing {
		return text + fmt.Sprintf("where %s allows next to nothing", i.By)
	}
	return text + fmt.Sprintf("%.3g of what %s allows", i.Use, i.By)
}

// allowsNothing is a use over which a limit has no figure: the case is as hot as a junction
// may be.
const allowsNothing = 1000

// LoadLine is the way of each output device through a cycle.
type LoadLine struct {
	Devices [][]Instant // one a device
	Worst   Instant
	Heat    float64 // mean power of the hottest output device, W
}

// SafeArea returns the safe operating area of an output device of the stage, and whether
// the stage file gives one.
func (s *Stage) SafeArea() (heat.Area, bool) {
	a := s.spec.SafeArea
	return heat.Area{
		Current: a.Current, Power: a.Power, BreakdownVolts: a.BreakdownVolts, BreakdownCurrent: a.BreakdownCurrent,
		Volts: a.Volts, Maximum: s.spec.Thermal.MaximumJunction,
	}, a.Fitted
}

// Cases returns the temperatures of the cases of a settled stage's output devices, K; the
// lower one is 0 for a lone device.
func (s *Settled) Cases() (upper, lower float64) {
	part := s.chain.CaseToSink / (s.chain.JunctionToCase + s.chain.CaseToSink)
	upper = s.Sink + (s.Temperatures.Upper-s.Sink)*part
	if !s.alone {
		lower = s.Sink + (s.Temperatures.Lower-s.Sink)*part
	}
	return upper, lower
}

// linePhases is how many instants of a cycle a load line has.
const linePhases = 360

// LoadLine returns the load line of a sine of peak volts at the input at midband, with
// the hotter case at a temperature, K.
func (b *Biased) LoadLine(peak, caseKelvins float64) (LoadLine, error) {
	w := b.line(caseKelvins)
	for i := range linePhases {
		cycle := (float64(i) + 0.5) / linePhases
		if _, _, err := b.Transfer(peak * math.Sin(2*math.Pi*cycle)); err != nil {
			return LoadLine{}, err
		}
		w.note(b.solver, cycle, 1.0/linePhases)
	}
	return w.finish(), nil
}

// LoadLine returns the load line of a periodic state, with the hotter case at a
// temperature, K.
func (s *Steady) LoadLine(caseKelvins float64) LoadLine {
	w := s.biased.line(caseKelvins)
	begin := math.NaN()
	s.cycle.Each(func(solver *network.Solver, seconds, share float64) {
		if math.IsNaN(begin) {
			begin = seconds
		}
		w.note(solver, (seconds-begin)*s.base, share)
	})
	return w.finish()
}

// lineWriter collects a load line.
type lineWriter struct {
	line   LoadLine
	places []int
	powers []float64
	area   heat.Area
	fitted bool
	kelvin float64
}

func (b *Biased) line(caseKelvins float64) *lineWriter {
	w := &lineWriter{places: b.net.All(), kelvin: caseKelvins}
	w.area, w.fitted = b.stage.SafeArea()
	w.line.Devices, w.powers = make([][]Instant, len(w.places)), make([]float64, len(w.places))
	return w
}

func (w *lineWriter) note(solver *network.Solver, cycle, share float64) {
	for k, place := range w.places {
		o := solver.Device(place)
		i := Instant{Device: o.Name, Cycle: cycle, Volts: o.Main, Current: o.Current}
		if w.fitted && i.Volts > 0 && i.Current > 0 {
			i.Limit, i.By = w.area.At(i.Volts, w.kelvin)
			i.Use = i.Current / max(i.Limit, 1e-9)
		}
		if i.Use > w.line.Worst.Use || w.line.Worst.Device == "" {
			w.line.Worst = i
		}
		w.powers[k] += o.Dissipation * share
		w.line.Devices[k] = append(w.line.Devices[k], i)
	}
}

func (w *lineWriter) finish() LoadLine {
	for _, p := range w.powers {
		w.line.Heat = max(w.line.Heat, p)
	}
	return w.line
}

// angleHertz is the frequency at which a load of a stated angle has it.
const angleHertz = 1000

// AtAngle solves the stage under a steady sine of peak volts at the input and 1 kHz, with
// a load of the size of its own resistance whose voltage leads its current by an angle in
// degrees: a resistance and an inductance in series. Legal angles are 0 to 85. The
// devices then carry current while much voltage lies across them: their heat and load
// line are those of a loudspeaker on the flank of a resonance (E. Benjamin, J. Audio Eng.
// Soc. 42(9):670, 1994, from memory).
func (b *Biased) AtAngle(peak, degrees float64) (*Steady, error) {
	legal := quantity.Range{Min: 0, Max: 85}
	if err := legal.Check(degrees); err != nil {
		return nil, &Error{Key: "angle", Err: err}
	}
	radians := degrees * math.Pi / 180
	m := b.made
	size := m.parts.Load.Ohms
	m.parts.Load = circuits.Load{
		Ohms: size * math.Cos(radians), Henries: size * math.Sin(radians) / (2 * math.Pi * angleHertz),
		Qms: m.parts.Load.Qms, Qes: m.parts.Load.Qes,
	}
	into, err := b.stage.bias(b.setting, m)
	if err != nil {
		return nil, err
	}
	return into.steadySine(angleHertz, peak)
}

// AtFrequency solves the stage, with its own load, under a steady sine of peak volts at
// the input and a frequency, Hz.
func (b *Biased) AtFrequency(hertz, peak float64) (*Steady, error) { return b.steadySine(hertz, peak) }

func (b *Biased) steadySine(hertz, peak float64) (*Steady, error) {
	p, err := b.Periodic()
	if err != nil {
		return nil, err
	}
	return p.Solve(hertz, Tone{Order: 1, Peak: peak})
}
