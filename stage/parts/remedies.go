package parts

import (
	"errors"
	"fmt"
	"math"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// What would reach a current, or make it the right one, where a stage's own parts do not:
// more or fewer diodes, feeds that starve less, a multiplier in place of the diodes, an
// emitter resistor of which the current is the textbook's optimum. Each is a whole stage,
// trimmed to the current and solved as built; one that does not come within two percent
// is not told.

// Change is one value of a stage file that differs.
type Change struct {
	Key      string
	Unit     quantity.Unit
	From, To float64 // From is NaN for a value that was not there
}

// Remedy is a stage that has a current.
type Remedy struct {
	What    string // for people, such as "3 bias diodes"
	Changes []Change
	Spec    stage.Spec
	// Cold is its current as built, A, and Warm that when it has settled with no signal, NaN
	// where it must not be run, as Refusal then says.
	Cold, Warm float64
	Refusal    string
	Feedback   float64 // thermal loop gain there
}

// within is how near the current of a remedy must be to that asked for.
const within = 0.02

// Remedies returns the stages that have a quiescent current, in amperes, of those that
// other parts would make of a stage, from the least change to the most. The error is that
// of a stage that cannot be solved.
func Remedies(st *stage.Stage, amperes float64) ([]Remedy, error) {
	var list []Remedy
	for _, try := range []func(stage.Spec, float64) ([]stage.Spec, []string){otherDiodes, strongerFeeds, multiplierForDiodes, otherEmitter} {
		specs, names := try(st.Spec(), amperes)
		for i, spec := range specs {
			r, ok, err := attempt(st.Spec(), spec, names[i], amperes)
			if err != nil {
				return list, err
			}
			if ok {
				list = append(list, r)
				break // of one kind the least change that does it
			}
		}
	}
	return list, nil
}

// attempt trims a stage to the current and solves it as built.
func attempt(was, spec stage.Spec, what string, amperes float64) (Remedy, bool, error) {
	st, err := stage.New(spec)
	if err != nil {
		return Remedy{}, false, nil // not every change suits every stage
	}
	b, part, err := trimmed(st, amperes)
	if err != nil {
		return Remedy{}, false, ifNot(err, ErrOutOfReach)
	}
	r := Remedy{What: what, Spec: b.Trimmed()}
	if err := set(&r.Spec, part.Key, rounded(part.Value, digits)); err != nil {
		return r, false, err
	}
	if r.Cold, err = current(r.Spec); err != nil || math.Abs(r.Cold/amperes-1) > within {
		return r, false, err
	}
	warm, refusal, err := settled(r.Spec)
	r.Warm, r.Refusal, r.Feedback = warm.Hot, refusal, warm.Feedback
	if refusal != "" {
		r.Warm = math.NaN()
	}
	r.Changes = changes(was, r.Spec)
	return r, true, err
}

func ifNot(err, target error) error {
	if errors.Is(err, target) {
		return nil
	}
	return err
}

// changes lists the values by which two specs differ, as far as they can be put side by
// side.
func changes(was, is stage.Spec) []Change {
	before, after := values(was), values(is)
	var list []Change
	for _, c := range after {
		from := math.NaN()
		for _, b := range before {
			if b.Key == c.Key {
				from = b.To
			}
		}
		if from != c.To {
			c.From = from
			list = append(list, c)
		}
	}
	return list
}

// values lists the values of a spec, in To.
func values(s stage.Spec) []Change {
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return nil
	}
	var list []Change
	for _, g := range kind.Groups(&s.Parts) {
		if g.Absent() {
			continue
		}
		for _, f := range g.Fields {
			switch v := f.Value.(type) {
			case *float64:
				list = append(list, Change{Key: g.Name + "." + f.Key, Unit: f.Range.Unit, To: *v})
			case *int:
				list = append(list, Change{Key: g.Name + "." + f.Key, Unit: f.Range.Unit, To: float64(*v)})
			}
		}
	}
	return list
}

// diodes reports whether a circuit is biased by a string of diodes between two bases.
func diodes(s stage.Spec) bool {
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return false
	}
	for _, g := range kind.Groups(&s.Parts) {
		for _, f := range g.Fields {
			if g.Name == "bias" && f.Key == "trimmer_series" {
				return true
			}
		}
	}
	return false
}

// otherDiodes tries one diode more, then one less.
func otherDiodes(s stage.Spec, _ float64) (specs []stage.Spec, names []string) {
	if !diodes(s) {
		return nil, nil
	}
	for _, n := range []int{s.Bias.Diodes + 1, s.Bias.Diodes - 1} {
		t := s
		t.Bias.Diodes, t.Bias.Series, t.Bias.Across = n, 0, 0
		specs, names = append(specs, t), append(names, fmt.Sprintf("%d bias diodes and a trimmer", n))
	}
	return specs, names
}

// strongerFeeds tries feeds of lower resistance: they carry the bases' current too.
func strongerFeeds(s stage.Spec, _ float64) (specs []stage.Spec, names []string) {
	if s.Bias.FeedUpper == 0 {
		return nil, nil
	}
	for _, part := range []float64{0.7, 0.5, 0.35, 0.25} {
		t := s
		t.Bias.FeedUpper, t.Bias.FeedLower = E24.Nearest(part*s.Bias.FeedUpper), E24.Nearest(part*s.Bias.FeedLower)
		specs = append(specs, t)
		names = append(names, "feed resistors of "+quantity.Format(t.Bias.FeedUpper, quantity.Ohm))
	}
	return specs, names
}

const (
	multiplierBottom = 1e3 // ohms, to begin with (common practice)
	couplingHertz    = 2   // corner of the coupling capacitors that a multiplier needs
)

// multiplierForDiodes puts a VBE multiplier in place of the diodes of an emitter-follower
// pair without a loop, with the capacitors that its circuit has.
func multiplierForDiodes(s stage.Spec, _ float64) ([]stage.Spec, []string) {
	if s.Circuit != "complementary-follower" || s.Feedback.Gain > 0 || s.Driver.Fitted {
		return nil, nil
	}
	t := s
	t.Circuit = "complementary-multiplier"
	t.Bias.Diodes, t.Bias.Series, t.Bias.Across = 0, 0, 0
	kind, err := circuits.Lookup(t.Circuit)
	if err != nil {
		return nil, nil
	}
	for _, g := range kind.Groups(&t.Parts) {
		if g.Name == "multiplier_device" {
			g.Typical[0].Fill()
		}
	}
	t.Multiplier.Top, t.Multiplier.Bottom = multiplierBottom, multiplierBottom
	parallel := 1 / (1/s.Bias.FeedUpper + 1/s.Bias.FeedLower)
	t.Coupling.Input = E24.Nearest(1 / (2 * math.Pi * couplingHertz * parallel))
	return []stage.Spec{t}, []string{"a multiplier in place of the diodes, driven through capacitors"}
}

// otherEmitter gives the pair the emitter resistor with which the current is the
// textbook's optimum, IQ RE = n kT/q.
func otherEmitter(s stage.Spec, amperes float64) ([]stage.Spec, []string) {
	st, err := stage.New(s)
	if err != nil || st.OptimumQuiescent() == 0 {
		return nil, nil
	}
	inside := (s.Upper.EmitterOhms + s.Lower.EmitterOhms) / 2
	total := st.OptimumQuiescent() * (s.Emitter.Ohms + inside) / amperes
	if total-inside < 0.02 {
		return nil, nil
	}
	s.Emitter.Ohms = E24.Nearest(total - inside)
	return []stage.Spec{s}, []string{"emitter resistors of " + quantity.Format(s.Emitter.Ohms, quantity.Ohm) + ", of which the current is the textbook's optimum"}
}
