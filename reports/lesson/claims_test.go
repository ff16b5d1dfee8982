package lesson

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// Every number that the lesson's text says, and every comparison, is looked up in it and
// worked out again from the stage: by sampling its solved circuit, by its own crossover,
// by a second ladder. A number that no claim covers fails the test, and so does a
// comparison that stands where it does not hold, or does not stand where it does.

// A claim is a sentence of a step.
type claim struct {
	step    string
	pattern string // its groups are quantities
	values  func(c *checker) []float64
	// holds tells from the values whether the sentence should stand; nil: always.
	holds func(v []float64) bool
}

// A checker holds a stage's own figures.
type checker struct {
	t *testing.T
	l *Lesson
	// stage and ladder are made anew from the spec.
	stage  *stage.Stage
	ladder *bias.Ladder
	// currents and heard are what heardOn found, told what detection did.
	currents, heard []float64
	told            map[asked]float64
}

// An asked is at which part of the optimum, at which level and whether turned up the stage
// is heard; several claims ask the same one.
type asked struct {
	part   float64
	level  level.DB
	turnUp bool
}

func (c *checker) must(err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

// of returns a built-in stage, biased.
func (c *checker) of(name string, s stage.Setting) (*bias.Evaluation, *bias.Ladder) {
	spec, err := stage.Lookup(name)
	c.must(err)
	st, err := stage.New(spec)
	c.must(err)
	ladder, err := bias.NewLadder(st, nil)
	c.must(err)
	e, err := ladder.At(s)
	c.must(err)
	return e, ladder
}

func (c *checker) own(s stage.Setting) *bias.Evaluation {
	e, err := c.ladder.At(s)
	c.must(err)
	return e
}

func (c *checker) volts(l level.DB) float64 { return c.ladder.Drive() * (l + peakDB).Amplitude() }

// thd is from 4096 samples of the solved circuit itself.
func (c *checker) thd(e *bias.Evaluation, peak float64) float64 {
	const n, orders = 4096, 400
	b := e.Biased()
	y := make([]float64, n)
	for i := range y {
		v, _, err := b.Transfer(peak * math.Cos(2*math.Pi*float64(i)/n))
		c.must(err)
		y[i] = v
	}
	var cosine [n]float64
	for i := range cosine {
		cosine[i] = math.Cos(2 * math.Pi * float64(i) / n)
	}
	amplitude := func(k int) (sum float64) {
		for i, v := range y {
			sum += v * cosine[k*i%n]
		}
		return 2 * sum / n
	}
	rest := 0.0
	for k := 2; k <= orders; k++ {
		a := amplitude(k)
		rest += a * a
	}
	return math.Sqrt(rest) / math.Abs(amplitude(1))
}

// angle is the conduction angle of the first output device, degrees: the part of a cycle in
// which it carries at least a hundredth of its maximum.
func (c *checker) angle(e *bias.Evaluation, peak float64) float64 {
	const n = 1440
	b := e.Biased()
	var currents []float64
	most := 0.0
	for i := range n {
		devices, err := b.Devices(peak * math.Sin(2*math.Pi*(float64(i)+0.5)/n))
		c.must(err)
		now := devices[b.Outputs()[0]].Current
		currents = append(currents, now)
		most = max(most, now)
	}
	on := 0
	for _, v := range currents {
		if v >= most/100 {
			on++
		}
	}
	return 360 * float64(on) / n
}

func (c *checker) power(e *bias.Evaluation, peak float64) stage.Power {
	p, err := e.Biased().Power(peak)
	c.must(err)
	return p
}

func (c *checker) zone(e *bias.Evaluation) float64 {
	x, err := e.Biased().Crossover()
	c.must(err)
	return x.DeadZone
}

// residual is what an independent rendering of the music leaves.
func (c *checker) residual(s stage.Setting, l level.DB) float64 {
	bench, err := render.NewBench(render.Options{Spec: c.stage.Spec(), Levels: []level.DB{maximumLevel}, Match: render.MatchGain, Solver: render.SolverStatic})
	c.must(err)
	clip, err := bench.Render(c.t.Context(), c.music(), rate, l, s)
	c.must(err)
	cross, power, whole := 0.0, 0.0, 0.0
	for ch, y := range clip.Output {
		for i, v := range y {
			r := clip.Reference[ch][i]
			cross, power, whole = cross+v*r, power+r*r, whole+v*v
		}
	}
	return math.Sqrt(whole*power/(cross*cross) - 1)
}

func (c *checker) settled(s stage.Setting) bias.Thermal {
	t, _, err := bias.Settle(c.stage, s, c.stage.Conditions(stage.Sine(0)))
	c.must(err)
	return t
}

// warmed returns by how much a current grows when all of a stage warms by 40 K and the
// bias voltage holds.
func (c *checker) warmed(spec stage.Spec) float64 {
	st, err := stage.New(spec)
	c.must(err)
	cold, err := st.Set(stage.Held(c.optimum()))
	c.must(err)
	warm, err := st.At(circuits.Uniform(spec.Thermal.Ambient + 40)).Set(stage.Bias(cold.Point().Bias))
	c.must(err)
	return warm.Point().Quiescent / cold.Point().Quiescent
}

func (c *checker) optimum() float64 {
	v, err := c.stage.Optimum()
	c.must(err)
	return v
}

func (c *checker) held(part float64) stage.Setting {
	if part == 0 {
		return stage.Bias(0)
	}
	b, err := c.stage.Set(stage.Held(part * c.optimum()))
	c.must(err)
	return stage.Bias(b.Point().Bias)
}

func (c *checker) quiet() level.DB { return c.l.thread.quiet }

// detection hears the thread's stage at a part of its optimum anew, through a rendering
// that is not the engine's.
func (c *checker) detection(part float64, l level.DB, turnUp bool) float64 {
	at := asked{part, l, turnUp}
	known, ok := c.told[at]
	if !ok {
		known = c.detected(c.stage.Spec(), c.held(part), l, turnUp)
		c.told[at] = known
	}
	return known
}

func (c *checker) detected(spec stage.Spec, setting stage.Setting, l level.DB, turnUp bool) float64 {
	bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{maximumLevel}, Match: render.MatchLoudness, Solver: render.SolverStatic})
	c.must(err)
	clip, err := bench.Render(c.t.Context(), c.music(), rate, l, setting)
	c.must(err)
	if turnUp {
		for _, side := range [][][]float64{clip.Reference, clip.Output} {
			for _, x := range side {
				floats.Scale((-l).Amplitude(), x)
			}
		}
	}
	reference, err := hearing.NewReference(hearing.DefaultConditions().Config(rate, len(clip.Reference)), clip.Reference)
	c.must(err)
	result := reference.Compare(clip.Output)
	return hearing.Detection(result.DPrime)
}

// music is the lesson's, in double precision.
func (c *checker) music() [][]float64 {
	music := make([][]float64, len(c.l.thread.music))
	for i, x := range c.l.thread.music {
		for _, v := range x {
			music[i] = append(music[i], float64(v))
		}
	}
	return music
}

const quantityPattern = `(\d+(?:\.\d+)?)\x{a0}?(mV|V|µA|mA|A|mW|W|kΩ|Ω|%|°C|°|K|dB|kHz|times)?`

var prefixes = map[string]float64{"m": 1e-3, "µ": 1e-6, "k": 1e3}

// read returns a quantity in SI units, a percentage as a ratio.
func read(number, unit string) float64 {
	v, _ := strconv.ParseFloat(number, 64)
	switch {
	case unit == "%":
		return v / 100
	case unit == "°C" || unit == "dB" || unit == "times":
		return v
	}
	for prefix, factor := range prefixes {
		if strings.HasPrefix(unit, prefix) && len(unit) > len(prefix) {
			return v * factor
		}
	}
	return v
}

// hottest returns where a stage settles at rest that its own parts bias, as the tables
// write it: its temperature in degrees Celsius, or NaN.
func (c *checker) hottest(s stage.Setting) float64 {
	t, _, err := bias.Settle(c.stage, s, c.stage.Conditions(stage.Sine(0)))
	if err != nil || !t.Settles() {
		return math.NaN()
	}
	return t.Junction - 273.15
}

// rows are the claims of the tables: each row is looked up behind its name.
func rows() []claim {
	var list []claim
	for i, part := range caseParts {
		list = append(list, claim{"cure", rowName(i) + ` #, (?:over |under )?#, (?:over |under )?#, (?:over |under )?#;`, func(c *checker) []float64 {
			return []float64{part * c.optimum(), c.detection(part, 0, false), c.detection(part, c.quiet(), true), c.detection(part, c.quiet(), false)}
		}, nil})
	}
	for i, name := range []string{"push-pull-resistor", "push-pull-divider", "pair-12w", "pair-12w-multiplier"} {
		list = append(list, claim{"holders", rowName(i) + ` [a-z ]+, #, #, (?:none|#);`, func(c *checker) []float64 {
			e, l := c.of(name, stage.AsBuilt())
			warm, _, err := bias.Settle(l.Stage(), stage.AsBuilt(), l.Stage().Conditions(stage.Sine(0)))
			c.must(err)
			return []float64{e.Quiescent, warm.Quiescent, c.zone(e)}
		}, nil})
	}
	for i := range 3 {
		list = append(list, claim{"too-much", rowName(i) + ` (?:none|#), (?:under )?#, (?:too hot|runaway|–|#), #;`, func(c *checker) []float64 {
			part := []float64{0, 1, c.l.thread.times}[i]
			e := c.own(c.held(part))
			own := stage.Bias(0)
			if part > 0 {
				own = bias.Current(part * c.optimum())
			}
			_, gain, err := e.Biased().Transfer(0)
			c.must(err)
			drawn := c.power(e, 0).Supply
			if drawn < 1e-3 {
				drawn = 1e-3 // written as under that
			}
			return []float64{e.Quiescent, drawn, c.hottest(own), gain}
		}, nil})
	}
	return list
}

func rowName(i int) string { return "row " + string(rune('a'+i)) + ":" }

func claims() []claim {
	fixed := func(v ...float64) func(*checker) []float64 { return func(*checker) []float64 { return v } }
	return []claim{
		{"fault", `its peaks are #, where full drive, just under clipping, is #`, func(c *checker) []float64 {
			return []float64{c.volts(c.quiet()), c.ladder.Drive()}
		}, nil},
		{"fault", `By share: quiet #, loud #`, func(c *checker) []float64 {
			return []float64{c.residual(stage.Bias(0), c.quiet()), c.residual(stage.Bias(0), 0)}
		}, nil},
		{"gap", `\(#\) goes in`, func(c *checker) []float64 { return []float64{c.zone(c.own(stage.Bias(0))) / 2} }, nil},
		{"cure", `The prediction says: from # on`, func(c *checker) []float64 { return []float64{c.gone()} }, func(v []float64) bool { return v[0] > 0 }},
		{"starving", `the quiescent current, # now`, func(c *checker) []float64 {
			e, _ := c.of("push-pull-resistor", stage.AsBuilt())
			return []float64{e.Quiescent}
		}, nil},
		{"class-a", `turns # into heat, in silence #`, func(c *checker) []float64 {
			e, l := c.of("single-class-a", stage.AsBuilt())
			return []float64{c.power(e, l.Drive()).Dissipation(), c.power(e, 0).Dissipation()}
		}, nil},
		{"warmth", `Compare the two sounds: predicted: [a-z ]+ \((?:over |under )?#\)`, func(c *checker) []float64 {
			spec := c.stage.Spec()
			spec.Thermal.Ambient += 40
			return []float64{c.detected(spec, c.held(1), c.quiet(), true)}
		}, nil},
		{"warmth", `Emitter resistors of # are`, func(c *checker) []float64 { return []float64{c.stage.Spec().Emitter.Ohms} }, func(v []float64) bool { return v[0] > 0 }},
		{"remains", `never zero \(# here\)`, func(c *checker) []float64 { return []float64{c.residual(c.held(1), c.quiet())} }, nil},
		{"fault", `# of what is heard is not music`, func(c *checker) []float64 { return []float64{c.residual(stage.Bias(0), c.quiet())} }, nil},
		{"fault", `it is #: the fault does not shrink`, func(c *checker) []float64 {
			return []float64{c.residual(stage.Bias(0), 0), -c.residual(stage.Bias(0), c.quiet())}
		}, func(v []float64) bool { return v[0] < -v[1] }},
		{"gap", `Over # of input`, func(c *checker) []float64 { return []float64{c.zone(c.own(stage.Bias(0)))} }, nil},
		{"gap", `Full drive reaches # beyond its edges, this music only #`, func(c *checker) []float64 {
			half := c.zone(c.own(stage.Bias(0))) / 2
			return []float64{c.ladder.Drive() - half, c.volts(c.quiet()) - half}
		}, nil},
		{"gap", `added to a tone, # of it at full drive, make # at the peaks`, func(c *checker) []float64 {
			e := c.own(stage.Bias(0))
			return []float64{c.thd(e, c.ladder.Drive()), c.thd(e, c.volts(c.quiet()))}
		}, func(v []float64) bool { return v[1] > v[0] }},
		{"halves", `takes under # from its supplies`, func(c *checker) []float64 {
			return []float64{1e-3, c.power(c.own(stage.Bias(0)), 0).Supply}
		}, func(v []float64) bool { return v[1] < 1e-3 }},
		{"halves", `should be # of each cycle`, fixed(180), nil},
		{"halves", `works for # of it at full drive and # in the quiet music`, func(c *checker) []float64 {
			e := c.own(stage.Bias(0))
			return []float64{c.angle(e, c.ladder.Drive()), c.angle(e, c.volts(c.quiet()))}
		}, nil},
		{"windings", `dead zone is # wide`, func(c *checker) []float64 {
			e, _ := c.of("push-pull-dead-zone", stage.AsBuilt())
			return []float64{c.zone(e)}
		}, nil},
		{"windings", `zone is gone; # then flow`, func(c *checker) []float64 {
			e, _ := c.of("push-pull-diode", stage.AsBuilt())
			return []float64{e.Quiescent, -c.zone(e)}
		}, func(v []float64) bool { return v[1] == 0 }},
		{"cure", `hears it surely at # in each device`, func(c *checker) []float64 { return []float64{c.surely()} }, func(v []float64) bool { return v[0] > 0 }},
		{"cure", `From # on it no longer does`, func(c *checker) []float64 { return []float64{c.gone()} }, func(v []float64) bool { return v[0] > 0 }},
		{"cure", `drops kT/q, some # mV, on each emitter's resistance: # here, held by #`, func(c *checker) []float64 {
			e := c.own(c.held(1))
			return []float64{26, c.stage.OptimumQuiescent(), e.Rung.Bias}
		}, func(v []float64) bool { return v[1] > 0 }},
		{"cure", `further out at #, held by #`, func(c *checker) []float64 {
			e := c.own(c.held(1))
			return []float64{c.optimum(), e.Rung.Bias, -c.stage.OptimumQuiescent()}
		}, func(v []float64) bool { return v[2] == 0 }},
		{"cure", `part: at # the fault is predicted in # of trials turned up and in # left`, func(c *checker) []float64 { return c.parted() }, func(v []float64) bool { return len(v) > 0 }},
		{"holders", `# under its full drive`, fixed(12), nil},
		{"starving", `A resistor of # from a supply of # can give the two bases # together`, func(c *checker) []float64 {
			e, l := c.of("push-pull-resistor", stage.AsBuilt())
			p := l.Stage().Spec().Parts
			return []float64{p.Tap.Upper, p.Supply.Positive, (p.Supply.Positive - e.Rung.Bias) / p.Tap.Upper}
		}, nil},
		{"starving", `At # of input its output reaches #; with a diode on the tap, #`, func(c *checker) []float64 {
			thin, _ := c.of("push-pull-resistor", stage.AsBuilt())
			firm, l := c.of("push-pull-diode", stage.AsBuilt())
			peak := l.Drive() * peakDB.Amplitude()
			out := func(e *bias.Evaluation) float64 {
				up, _, err := e.Biased().Transfer(peak)
				c.must(err)
				down, _, err := e.Biased().Transfer(-peak)
				c.must(err)
				return math.Abs(up-down) / 2
			}
			return []float64{peak, out(thin), out(firm)}
		}, func(v []float64) bool { return v[1] < v[2] }},
		{"class-a", `will carry, # here, and conducts for # of every cycle`, func(c *checker) []float64 {
			e, l := c.of("single-class-a", stage.AsBuilt())
			return []float64{e.Quiescent, c.angle(e, l.Drive())}
		}, nil},
		{"class-a", `draws # in silence and # at full drive, of which # reaches the load`, func(c *checker) []float64 {
			e, l := c.of("single-class-a", stage.AsBuilt())
			return []float64{c.power(e, 0).Supply, c.power(e, l.Drive()).Supply, c.power(e, l.Drive()).Load}
		}, nil},
		{"class-a", `nobody listens, # against #`, func(c *checker) []float64 {
			e, l := c.of("single-class-a", stage.AsBuilt())
			return []float64{c.power(e, 0).Dissipation(), c.power(e, l.Drive()).Dissipation()}
		}, func(v []float64) bool { return v[0] > v[1] }},
		{"class-a", `hottest with a sine of # of its drive`, func(c *checker) []float64 {
			e, best, most := c.own(c.held(1)), 0.0, -1.0
			for _, part := range []float64{0, 0.4, 0.5, 0.6, 2 / math.Pi, 0.7, 0.8, 0.9, 1} {
				if h := c.power(e, part*c.ladder.Drive()).Dissipation(); h > most {
					best, most = part, h
				}
			}
			return []float64{best}
		}, func(v []float64) bool { return v[0] > 0 }},
		{"class-a", `It is coolest at rest()`, func(c *checker) []float64 {
			e, least := c.own(c.held(1)), math.Inf(1)
			for i := 1; i <= 20; i++ {
				least = min(least, c.power(e, float64(i)/20*c.ladder.Drive()).Dissipation())
			}
			return []float64{c.power(e, 0).Dissipation(), -least}
		}, func(v []float64) bool { return v[0] <= -v[1] }},
		{"too-much", `Here is # times the optimum, #:`, func(c *checker) []float64 {
			return []float64{c.l.thread.times, c.l.thread.times * c.optimum()}
		}, nil},
		{"too-much", `the gain is # there and # at the peaks`, func(c *checker) []float64 {
			b := c.own(c.held(c.l.thread.times)).Biased()
			gain := func(in float64) float64 {
				_, g, err := b.Transfer(in)
				c.must(err)
				return g
			}
			d := c.ladder.Drive()
			return []float64{math.Abs(gain(0)), math.Abs(gain(d)+gain(-d)) / 2}
		}, func(v []float64) bool { return v[0] > v[1] }},
		{"too-much", `distortion can rise again: (?:at full drive|# under full drive) a tone has # the harmonics`, func(c *checker) []float64 { return c.risen() }, func(v []float64) bool { return v[1] > 1.2 }},
		{"too-much", `power: # drawn in silence instead of #`, func(c *checker) []float64 {
			return []float64{c.power(c.own(c.held(c.l.thread.times)), 0).Supply, c.power(c.own(c.held(1)), 0).Supply}
		}, func(v []float64) bool { return true }},
		{"warmth", `(?:Hold the bias|held) at #,? (?:let the devices warm|and warmed) by #,(?: and)? the current goes from # to #`, func(c *checker) []float64 {
			return []float64{c.own(c.held(1)).Rung.Bias, 40, c.optimum(), c.optimum() * c.warmed(c.stage.Spec())}
		}, nil},
		{"warmth", `(?:A warm junction)()`, func(c *checker) []float64 { return []float64{c.warmed(c.stage.Spec())} }, func(v []float64) bool { return v[0] > 1 }},
		{"warmth", `grow to # its value over the same warmth, and settle at #`, func(c *checker) []float64 {
			spec := c.own(bias.Current(c.optimum())).Biased().Trimmed()
			st, err := stage.New(spec)
			c.must(err)
			at := circuits.Uniform(spec.Thermal.Ambient + 40)
			at.Bias = spec.Thermal.Ambient + 40*spec.Thermal.Coupling
			b, err := st.At(at).Set(stage.AsBuilt())
			c.must(err)
			warm := c.settled(bias.Current(c.optimum()))
			settles := 0.0
			if warm.Settles() {
				settles = 1
			}
			return []float64{b.Point().Quiescent / c.optimum(), warm.Junction - 273.15, settles, -c.warmed(c.stage.Spec())}
		}, func(v []float64) bool { return v[2] == 1 && v[0] < -v[3] }},
		{"warmth", `Here it comes to rest, at #`, func(c *checker) []float64 {
			warm := c.settled(c.held(1))
			settles := 0.0
			if warm.Settles() {
				settles = 1
			}
			return []float64{warm.Junction - 273.15, settles}
		}, func(v []float64) bool { return v[1] == 1 }},
		{"warmth", `\(#\) help too: .* multiply the current by #, not by #`, func(c *checker) []float64 {
			less := c.stage.Spec()
			less.Emitter.Ohms /= 4
			return []float64{c.stage.Spec().Emitter.Ohms, c.warmed(less), c.warmed(c.stage.Spec())}
		}, func(v []float64) bool { return v[0] > 0 && v[1] > v[2] }},
		{"feedback", `Of a tone # under full drive, distortion falls from # to #`, func(c *checker) []float64 {
			bare, l := c.of("pair-12w", stage.Bias(0))
			looped, m := c.of("pair-12w-feedback", stage.Bias(0))
			tone, err := looped.Tone(997, m.Drive()/10)
			c.must(err)
			return []float64{20, c.thd(bare, l.Drive()/10), tone.THD}
		}, func(v []float64) bool { return v[2] < v[1] }},
		{"feedback", `at # it is #`, func(c *checker) []float64 {
			looped, m := c.of("pair-12w-feedback", stage.Bias(0))
			tone, err := looped.Tone(9970, m.Drive()/10)
			c.must(err)
			return []float64{9970, tone.THD}
		}, nil},
		{"feedback", `the same loop leaves #`, func(c *checker) []float64 {
			looped, m := c.of("pair-12w-feedback", stage.AsBuilt())
			tone, err := looped.Tone(997, m.Drive()/10)
			c.must(err)
			return []float64{tone.THD}
		}, nil},
		{"remains", `At the optimum # of the quiet music's output is still the stage's own, # under the music`, func(c *checker) []float64 {
			left := c.residual(c.held(1), c.quiet())
			return []float64{left, -20 * math.Log10(left)}
		}, nil},
		{"remains", `is predicted to be heard in (?:under |over )?# of trials`, func(c *checker) []float64 { return []float64{c.detection(1, c.quiet(), true)} }, nil},
		{"remains", `--level -?# `, func(c *checker) []float64 {
			return []float64{math.Round(float64(c.quiet() + level.FromAmplitude(c.l.thread.excerpt.Gain)))}
		}, nil},
	}
}

// surely and gone find the two currents of the cure on the lesson's ladder.
func (c *checker) heardOn() (currents, heard []float64) {
	if c.heard != nil {
		return c.currents, c.heard
	}
	defer func() { c.currents, c.heard = currents, heard }()
	for _, part := range append([]float64{0}, ladderCurrents...) {
		currents = append(currents, part*c.optimum())
		heard = append(heard, c.detection(part, c.quiet(), true))
	}
	return currents, heard
}

func (c *checker) surely() float64 {
	currents, heard := c.heardOn()
	last := 0.0
	for i, v := range heard {
		if v <= surely {
			break
		}
		last = currents[i]
	}
	return last
}

func (c *checker) gone() float64 {
	currents, heard := c.heardOn()
	first := 0.0
	for i := len(heard) - 1; i >= 0 && heard[i] < hardly; i-- {
		first = currents[i]
	}
	return first
}

func (c *checker) parted() []float64 {
	var best []float64
	for _, part := range caseParts {
		up, left := c.detection(part, c.quiet(), true), c.detection(part, c.quiet(), false)
		if up-left > 0.02 && (best == nil || up-left > best[1]-best[2]) {
			best = []float64{part * c.optimum(), up, left}
		}
	}
	return best
}

func (c *checker) risen() []float64 {
	cured, over := c.own(c.held(1)), c.own(c.held(c.l.thread.times))
	most, at := 1.0, 0.0
	for l := level.DB(-40); l <= 0; l += 2 {
		peak := c.ladder.Drive() * l.Amplitude()
		if r := c.thd(over, peak) / c.thd(cured, peak); r > most {
			most, at = r, float64(l)
		}
	}
	return []float64{-at, most}
}

// near tells whether a printed number of about two digits is that value; a share of trials
// is printed in whole percent, and two renderings of it may differ by three.
func near(printed, value float64, unit string) bool {
	switch {
	case math.IsNaN(value):
		return false
	case printed == 0: // of three decimals
		return math.Abs(value) < 5.5e-4
	}
	switch {
	case unit == "%" && value > 0.05:
		return math.Abs(printed-value) < 0.035 || math.Abs(printed/value-1) < 0.03
	case unit == "%" && printed >= 0.01:
		return math.Abs(printed-value) < 0.0105
	}
	return math.Abs(printed-math.Abs(value)) <= 0.055*math.Abs(value)+1e-9
}

var markup = regexp.MustCompile(`<[^>]*>`)

func TestClaims(t *testing.T) {
	accepted(t, func(t *testing.T, l *Lesson) {
		st, err := stage.New(l.thread.spec)
		if err != nil {
			t.Fatal(err)
		}
		ladder, err := bias.NewLadder(st, nil)
		if err != nil {
			t.Fatal(err)
		}
		c := &checker{t: t, l: l, stage: st, ladder: ladder, told: map[asked]float64{}}
		texts := map[string]string{}
		for _, s := range l.steps {
			var text strings.Builder
			text.WriteString(strings.Join(s.text, " ") + " " + s.question + " " + s.answer)
			if s.table != nil {
				for i, row := range s.table.Rows {
					text.WriteString(" " + rowName(i) + " " + strings.Join(row, ", ") + ";")
				}
			}
			texts[s.id] = markup.ReplaceAllString(text.String(), "")
		}
		for _, claim := range append(claims(), rows()...) {
			pattern := regexp.MustCompile(strings.ReplaceAll(claim.pattern, "#", quantityPattern))
			values := claim.values(c)
			found := pattern.FindStringSubmatch(texts[claim.step])
			should := claim.holds == nil || claim.holds(values)
			if should != (found != nil) {
				t.Errorf("%s: %q stands: %v, holds: %v, for %.3g", claim.step, claim.pattern, found != nil, should, values)
				continue
			}
			if found == nil {
				continue
			}
			for i := 0; 2*i+2 < len(found) && i < len(values); i++ {
				if found[2*i+1] == "" {
					continue
				}
				if got := read(found[2*i+1], found[2*i+2]); !near(got, values[i], found[2*i+2]) {
					t.Errorf("%s: %q says %g, it is %.4g", claim.step, found[0], got, values[i])
				}
			}
			texts[claim.step] = strings.Replace(texts[claim.step], found[0], "", 1)
		}
		for id, text := range texts {
			if i := strings.IndexAny(strings.NewReplacer("V1", "", "V2", "", "soft-wind", "", l.thread.argument, "").Replace(text), "0123456789"); i >= 0 {
				t.Errorf("%s: a number that no claim covers in %q", id, text)
			}
		}
	})
}
