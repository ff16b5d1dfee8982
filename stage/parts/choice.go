package parts

import (
	"errors"
	"fmt"
	"math"

	"quietcross/dsp/bracket"
	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/device"
)

// The trimmed part of a stage is solved for at the wanted current, and then again for
// units that differ: each tolerance and each end of the air's temperatures alone, upward
// and downward. Their ratios to the value of the nominal unit multiply to the worst case
// both ways. A fixed resistor of the series stands under the least of that, and a
// trimming potentiometer in series reaches from there past the most.

// Options are what the parts are chosen for.
type Options struct {
	Series    Series
	Resistors float64    // tolerance of the bias resistors, relative
	Junctions float64    // tolerance of each device's control voltage at one current, V
	Gains     float64    // tolerance of the current gains, relative
	Air       [2]float64 // on the bench while it is set, K
}

// DefaultOptions are 1 % resistors from E24, 10 mV on every junction, current gains within
// a factor of 1.5 and a bench between 15 and 35 degrees Celsius.
func DefaultOptions() Options {
	return Options{
		Series: E24, Resistors: 0.01, Junctions: 0.010, Gains: 0.5,
		Air: [2]float64{device.ZeroCelsius + 15, device.ZeroCelsius + 35},
	}
}

// Check refuses options that no parts can be chosen for.
func (o Options) Check() error {
	switch {
	case o.Series != E24 && o.Series != E96:
		return fmt.Errorf("parts: E%d is no series; there are E24 and E96", int(o.Series))
	case !(o.Resistors >= 0 && o.Resistors <= 0.2) || !(o.Junctions >= 0 && o.Junctions <= 0.2) || !(o.Gains >= 0 && o.Gains < 4):
		return errors.New("parts: tolerances are 0 to 0.2 of resistors, 0 to 200 mV of junctions and 0 to under 4 of gains")
	case !(o.Air[0] > 200 && o.Air[1] >= o.Air[0] && o.Air[1] < 400):
		return errors.New("parts: the air on the bench is from lower to higher, 200 to 400 K")
	}
	return nil
}

// Choice is the parts for a quiescent current.
type Choice struct {
	Wanted float64 // A, cold
	// Part is the trimmed part with the value that gives the current.
	Part circuits.Trimmer
	// Alone is the nearest preferred value without a trimmer, and AloneCurrent what it
	// gives cold, A.
	Alone, AloneCurrent float64
	// Lowest and Highest are what the part must be in the worst units of the tolerances, and
	Lowest, Highest float64
	Reaches         bool
	// Fixed is the resistor of the series in series with the trimming potentiometer
	// Trimmer, which is set to Set in the nominal unit; ohms. Fixed is 0 where the trimmer
	// must reach to nothing.
	Fixed, Trimmer, Set float64
	// Spec is the stage with its part at Fixed and Set; as built it has Cold, A, at the
	// stage's own air, and Warm when it has settled with no signal; Warm is NaN and Refusal
	// says why where it does not.
	Spec       stage.Spec
	Cold, Warm float64
	Refusal    string
	Coupling   Coupling
}

// Coupling is how closely the bias part must follow the sink.
type Coupling struct {
	Given float64 // by the stage file
	// Even is the coupling at which the stage at rest comes to its cold current again when
	// warm; NaN where not even 1 does it.
	Even float64
	// Least is the coupling at which the thermal loop gain at rest is half of what runs away;
	// 0 where none is needed and NaN where not even 1 does it.
	Least float64
}

// digits is how many significant digits of the trimmed part a stage file gets: its current
// is then that which was asked for within a thousandth.
const digits = 6

// ErrOutOfReach is what the error of a current that a stage's parts do not reach wraps.
var ErrOutOfReach = errors.New("the stage's bias parts do not reach this current")

// Choose finds the parts for a quiescent current, in amperes, set cold. A current that the
// stage's parts do not reach is an error that wraps ErrOutOfReach; see [Remedies]. The
// error of a stage without bias parts wraps it too.
func Choose(st *stage.Stage, amperes float64, o Options) (*Choice, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	b, part, err := trimmed(st, amperes)
	if err != nil {
		return nil, err
	}
	c := &Choice{Wanted: amperes, Part: part, Spec: b.Trimmed()}
	c.Alone = o.Series.Nearest(part.Value)
	if c.AloneCurrent, err = currentWith(c.Spec, part.Key, c.Alone); err != nil {
		return nil, err
	}
	c.reach(st, o)
	c.divide(o.Series)
	if err := set(&c.Spec, part.Key, rounded(c.Fixed+c.Set, digits)); err != nil {
		return nil, err
	}
	return c, c.rebuild(st)
}

// trimmed sets a stage to a current by its own part.
func trimmed(st *stage.Stage, amperes float64) (*stage.Biased, circuits.Trimmer, error) {
	b, err := st.Set(stage.Quiescent(amperes))
	refused := (*stage.Error)(nil)
	switch {
	case errors.As(err, &refused):
		return nil, circuits.Trimmer{}, fmt.Errorf("%w: %w", ErrOutOfReach, err)
	case err != nil:
		return nil, circuits.Trimmer{}, err
	}
	part, ok := b.Trim()
	if !ok {
		return nil, part, fmt.Errorf("%w: it has none, and an ideal source would stand in", ErrOutOfReach)
	}
	return b, part, nil
}

// field returns the value of a spec by its key in the stage file.
func field(s *stage.Spec, key string) (*float64, error) {
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return nil, err
	}
	for _, g := range kind.Groups(&s.Parts) {
		for _, f := range g.Fields {
			if v, ok := f.Value.(*float64); ok && g.Name+"."+f.Key == key {
				return v, nil
			}
		}
	}
	return nil, fmt.Errorf("parts: a %s has no %q", s.Circuit, key)
}

// set gives a spec a value by its key.
func set(s *stage.Spec, key string, value float64) error {
	v, err := field(s, key)
	if err == nil {
		*v = value
	}
	return err
}

// currentWith returns the cold quiescent current of a spec with one value changed, A.
func currentWith(s stage.Spec, key string, value float64) (float64, error) {
	if err := set(&s, key, value); err != nil {
		return 0, err
	}
	return current(s)
}

// current returns the cold quiescent current of a spec as built, A.
func current(s stage.Spec) (float64, error) {
	st, err := stage.New(s)
	if err != nil {
		return 0, err
	}
	b, err := st.Set(stage.AsBuilt())
	if err != nil {
		return 0, err
	}
	return b.Point().Quiescent, nil
}

// reach finds what the trimmed part must be in the worst units. Values are compared in
// logarithms; a unit that does not reach the current leaves Reaches false.
func (c *Choice) reach(st *stage.Stage, o Options) {
	up, down := 0.0, 0.0
	c.Reaches = true
	for _, differ := range differences(o, c.Part.Key) {
		least, most := 0.0, 0.0
		for _, unit := range differ {
			spec := st.Spec()
			unit(&spec)
			other, err := stage.New(spec)
			if err == nil {
				var part circuits.Trimmer
				if _, part, err = trimmed(other, c.Wanted); err == nil && part.Key == c.Part.Key {
					ratio := math.Log(part.Value / c.Part.Value)
					least, most = min(least, ratio), max(most, ratio)
					continue
				}
			}
			c.Reaches = false
		}
		down, up = down+least, up+most
	}
	c.Lowest, c.Highest = c.Part.Value*math.Exp(down), c.Part.Value*math.Exp(up)
}

// differences are the ways in which units differ, each both ways.
func differences(o Options, key string) [][2]func(*stage.Spec) {
	both := func(change func(s *stage.Spec, by float64)) [2]func(*stage.Spec) {
		return [2]func(*stage.Spec){func(s *stage.Spec) { change(s, 1) }, func(s *stage.Spec) { change(s, -1) }}
	}
	ratio := func(part, by float64) float64 { return math.Pow(1+part, by) }
	vt := device.ThermalVoltage(device.RoomKelvin)
	shift := func(t *circuits.Transistor, by float64) {
		t.Saturation *= math.Exp(by * o.Junctions / (vt * t.Emission))
	}
	return [][2]func(*stage.Spec){
		both(func(s *stage.Spec, by float64) { // output devices
			shift(&s.Upper, by)
			shift(&s.Lower, by)
			s.UpperFET.Threshold -= by * o.Junctions
			s.LowerFET.Threshold -= by * o.Junctions
		}),
		both(func(s *stage.Spec, by float64) { // their drivers
			shift(&s.Drivers.Upper, by)
			shift(&s.Drivers.Lower, by)
		}),
		both(func(s *stage.Spec, by float64) { // bias devices
			shift(&s.Multiplier.Device, by)
			s.Diode.Saturation *= math.Exp(by * o.Junctions / (vt * s.Diode.Emission))
		}),
		both(func(s *stage.Spec, by float64) {
			for _, t := range []*circuits.Transistor{&s.Upper, &s.Lower, &s.Drivers.Upper, &s.Drivers.Lower} {
				t.ForwardGain *= ratio(o.Gains, by)
			}
		}),
		both(func(s *stage.Spec, by float64) {
			if key != "multiplier.top" {
				s.Multiplier.Top *= ratio(o.Resistors, by)
			}
		}),
		both(func(s *stage.Spec, by float64) {
			s.Bias.FeedUpper *= ratio(o.Resistors, by)
			s.Bias.FeedLower *= ratio(o.Resistors, by)
			s.Tap.Lower *= ratio(o.Resistors, by)
		}),
		{func(s *stage.Spec) { s.Thermal.Ambient = o.Air[0] }, func(s *stage.Spec) { s.Thermal.Ambient = o.Air[1] }},
	}
}

// divide parts the trimmed value into a fixed resistor and a trimming potentiometer.
func (c *Choice) divide(s Series) {
	c.Fixed = 0
	if c.Lowest > 0.02*c.Highest {
		c.Fixed = s.Below(c.Lowest)
	}
	c.Trimmer = trimmerFrom(c.Highest - c.Fixed)
	c.Set = c.Part.Value - c.Fixed
}

// rebuild solves the chosen stage as built, cold and warm, and what coupling it needs.
func (c *Choice) rebuild(st *stage.Stage) error {
	var err error
	if c.Cold, err = current(c.Spec); err != nil {
		return err
	}
	warm, refusal, err := settled(c.Spec)
	if err != nil {
		return err
	}
	c.Warm, c.Refusal = warm.Hot, refusal
	if refusal != "" {
		c.Warm = math.NaN()
	}
	c.Coupling, err = coupling(c.Spec)
	return err
}

// settled settles a spec as built with no signal, and says why where it must not be run.
func settled(s stage.Spec) (stage.Settled, string, error) {
	st, err := stage.New(s)
	if err != nil {
		return stage.Settled{}, "", err
	}
	warm, err := st.Settle(stage.AsBuilt(), 0)
	if errors.Is(err, stage.ErrRunaway) || errors.Is(err, stage.ErrTooHot) {
		return warm, err.Error(), nil
	}
	return warm, "", err
}

// couplingWithin is how finely a coupling is looked for.
const couplingWithin = 1e-3

// Half of the thermal loop gain at which a stage runs away.
const halfOfRunaway = 0.5

// coupling finds the couplings that a stage as built needs.
func coupling(s stage.Spec) (Coupling, error) {
	c := Coupling{Given: s.Thermal.Coupling}
	even := func(k float64) (float64, error) {
		s.Thermal.Coupling = k
		warm, refusal, err := settled(s)
		if refusal != "" {
			return 10, err // it runs up
		}
		return math.Log(warm.Hot / warm.Cold), err
	}
	gain := func(k float64) (float64, error) {
		s.Thermal.Coupling = k
		warm, refusal, err := settled(s)
		if refusal != "" {
			return 10, err
		}
		return warm.Feedback - halfOfRunaway, err
	}
	var err error
	if c.Even, err = between(even); err != nil {
		return c, err
	}
	c.Least, err = between(gain)
	return c, err
}

// between returns the coupling at which a falling function passes 0: 0 where it is not
// above it at no coupling, NaN where it stays above it.
func between(of func(k float64) (float64, error)) (float64, error) {
	at0, err := of(0)
	if err != nil || at0 <= 0 {
		return 0, err
	}
	at1, err := of(1)
	if err != nil || at1 > 0 {
		return math.NaN(), err
	}
	return bracket.Root(of, 0, 1, couplingWithin)
}
