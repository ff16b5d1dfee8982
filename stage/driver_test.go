package stage

import (
	"bytes"
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// driven lists one built-in stage of every circuit with a driver put before it.
func driven(t *testing.T) []*Stage {
	t.Helper()
	own, err := Lookup("push-pull-driven")
	if err != nil {
		t.Fatal(err)
	}
	var list []*Stage
	for _, kind := range circuits.Kinds() {
		for _, named := range Builtin() {
			if named.Circuit != kind.Name {
				continue
			}
			list = append(list, mustStage(t, named.Name, func(s *Spec) {
				if s.Driver.Fitted {
					return
				}
				s.Driver = own.Driver
				s.Driver.DividerUpper *= (s.Supply.Positive + s.Supply.Negative) / own.Supply.Positive
				s.Driver.Collector, s.Driver.Output = 470, 100e-6
				s.Driver.Emitter, s.Driver.Degeneration = 100, 10
			}))
			break
		}
	}
	return list
}

// settingsOf are a stage as built, unbiased and at a current that heat allows.
func settingsOf(s *Stage) []Setting {
	reference := s.reference()
	return []Setting{AsBuilt(), Bias(0), Held(0.1 * reference), Quiescent(0.1 * reference)}
}

// TestDriverBeforeEveryCircuit checks what must hold of every circuit with a driver: a
// forced bias is at the bias port and makes the current asked for, the driver is no
// output device, the output has the sign that is said, the survey finds where it
// clips, and the books of a cycle close.
func TestDriverBeforeEveryCircuit(t *testing.T) {
	for _, s := range driven(t) {
		name := s.Spec().Circuit
		if !s.HasDriver() || !s.HasMemory() {
			t.Errorf("%s: no driver, or no memory", name)
		}
		if want := s.Spec().Input.Ratio == 0; s.Inverts() != want {
			t.Errorf("%s: inverts: %v", name, s.Inverts())
		}
		for _, setting := range settingsOf(s) {
			b := mustSet(t, s, setting)
			p := b.Point()
			if setting.Mode() == "bias" && math.Abs(p.Bias-setting.Value()) > 1e-9 {
				t.Errorf("%s %v: %g V at the bias port", name, setting, p.Bias)
			}
			if setting.Mode() == "quiescent" {
				relative(t, name+": quiescent current", p.Quiescent, setting.Value(), 1e-6)
			}
			place := slices.IndexFunc(p.Devices, func(o network.Operation) bool { return o.Name == "driver" })
			if place < 0 || slices.Contains(b.Outputs(), place) {
				t.Errorf("%s: the driver is device %d, outputs are %v", name, place, b.Outputs())
			}
			checkDrivenCurve(t, name+" "+setting.String(), b)
			checkDrivenBooks(t, name+" "+setting.String(), b)
		}
	}
}

// checkDrivenCurve looks at the gain between the clipping onsets and well outside.
func checkDrivenCurve(t *testing.T, name string, b *Biased) {
	t.Helper()
	lo, hi := b.Clip()
	curve, err := b.Curve(lo, hi, 201)
	if err != nil {
		t.Fatal(err)
	}
	top := slices.MaxFunc(curve, func(p, q Sample) int { return cmp.Compare(math.Abs(p.Gain), math.Abs(q.Gain)) })
	if top.Gain < 0 != b.Stage().Inverts() || math.Abs(top.Gain) < 0.1 {
		t.Errorf("%s: maximum gain %g", name, top.Gain)
	}
	for _, onset := range []float64{lo, hi} {
		outside, err := b.gain(1.5 * onset)
		if err != nil {
			t.Fatal(err)
		}
		if outside > 0.5*math.Abs(top.Gain) {
			t.Errorf("%s: gain %g inside and %g beyond clipping at %g V", name, top.Gain, outside, onset)
		}
	}
}

// checkDrivenBooks moves the stage through five cycles.
func checkDrivenBooks(t *testing.T, name string, b *Biased) {
	t.Helper()
	d := mustDynamic(t, b, 96e3)
	books := d.OpenLedger()
	x := tone(b.Drive(), 1000, 96e3, 5e-3)
	if err := d.Process(x, x); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if e := books.Imbalance(); !(math.Abs(e) < 1e-6) {
		t.Errorf("%s: books are out by %g", name, e)
	}
}

// TestDriverMovesWithRectifiedCurrent drives the driven pair far beyond clipping: its
// bases and the driver's junction rectify, which charges the coupling capacitors, and
// afterwards the tap is not where it was at rest, and comes back.
func TestDriverMovesWithRectifiedCurrent(t *testing.T) {
	b := mustSet(t, mustStage(t, "pair-12w-driven", nil), AsBuilt())
	d := mustDynamic(t, b, 96e3)
	at := func() float64 {
		for i, n := range b.Point().Nodes {
			if n.Name == "driver base" {
				return d.transient.Solver().Voltage(network.Node(i)) - n.Volts
			}
		}
		return math.NaN()
	}
	x := tone(4*b.Drive(), 1000, 96e3, 0.05)
	if err := d.Process(x, x); err != nil {
		t.Fatal(err)
	}
	quiet := make([]float64, 9600)
	if err := d.Process(quiet[:96], make([]float64, 96)); err != nil {
		t.Fatal(err)
	}
	early := at()
	for range 4 {
		if err := d.Process(quiet, make([]float64, len(quiet))); err != nil {
			t.Fatal(err)
		}
	}
	if late := at(); !(math.Abs(early) > 0.05) || !(math.Abs(late) < 0.1*math.Abs(early)) {
		t.Errorf("after a loud passage the driver's base is off by %g V, and half a second later by %g V", early, late)
	}
}

// secondHarmonic is that of the midband output re its fundamental, with its sign, of
// a cosine some decibels re the drive.
func secondHarmonic(t *testing.T, b *Biased, decibels float64) float64 {
	t.Helper()
	var lines [3]float64
	for i := range 256 {
		phase := 2 * math.Pi * (float64(i) + 0.5) / 256
		out, _, err := b.Transfer(b.Drive() * math.Pow(10, decibels/20) * math.Cos(phase))
		if err != nil {
			t.Fatal(err)
		}
		for n := range lines {
			lines[n] += out * math.Cos(float64(n)*phase)
		}
	}
	return lines[2] / lines[1]
}

// TestDriverAddsEvenOrder checks what the driver is heard by: a matched pair alone has
// no second harmonic, and behind a driver it has one that rises in proportion to the
// level, as that of any law bent one way does (the term of second order of its Taylor series).
func TestDriverAddsEvenOrder(t *testing.T) {
	alone := mustStage(t, "pair-12w", nil)
	if h := secondHarmonic(t, mustSet(t, alone, Held(alone.OptimumQuiescent())), -20); math.Abs(h) > 1e-7 {
		t.Errorf("a matched pair alone has a second harmonic of %g", h)
	}
	s := mustStage(t, "pair-12w-driven", nil)
	b := mustSet(t, s, Held(s.OptimumQuiescent()))
	soft, loud := secondHarmonic(t, b, -40), secondHarmonic(t, b, -20)
	if math.Abs(loud) < 1e-4 {
		t.Errorf("behind a driver the second harmonic is %g", loud)
	}
	relative(t, "second harmonic for 20 dB more", loud/soft, 10, 0.05)
}

// TestDriverTablesAreOptional checks that a stage without a driver writes none of its
// tables, and that with one they are read back as they were.
func TestDriverTablesAreOptional(t *testing.T) {
	for name, want := range map[string]bool{"pair-12w": false, "pair-12w-driven": true, "push-pull-driven": true} {
		spec, err := Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := spec.Write(&text); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(text.String(), "[driver]") && strings.Contains(text.String(), "[driver_device]"); got != want {
			t.Errorf("%s: driver's tables written: %v", name, got)
		}
		again, err := Read(&text, name)
		if err != nil || again != spec {
			t.Errorf("%s: read back as %+v, %v", name, again, err)
		}
	}
}

// TestDriverRefusals checks what is said of drivers that cannot be.
func TestDriverRefusals(t *testing.T) {
	spec, err := Lookup("pair-12w-driven")
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := spec.Write(&text); err != nil {
		t.Fatal(err)
	}
	file := text.String()
	cut := func(from, to string) string {
		head, rest, ok := strings.Cut(file, from)
		_, tail, closed := strings.Cut(rest, to)
		if !ok || !closed {
			t.Fatalf("no %q in the file", from)
		}
		return head + to + tail
	}
	line := func(key, value string) string {
		head, rest, ok := strings.Cut(file, "\n"+key+" = ")
		_, tail, closed := strings.Cut(rest, "\n")
		if !ok || !closed {
			t.Fatalf("no %q in the file", key)
		}
		return head + "\n" + key + " = " + value + "\n" + tail
	}
	for _, row := range []struct{ name, file, says string }{
		{"no output capacitor", cut("output_capacitor", "\n"), "driver.output_capacitor: missing; legal are 1nF to 1F"},
		{"device alone", cut("[driver]", "# law of the transistor of the class A"), "driver.divider_upper: missing"},
		{"foreign key", strings.Replace(file, "[driver]\n", "[driver]\ndamping = 100\n", 1), "driver.damping: is no key"},
		{"silly value", line("divider_upper", `"1mohm"`), "driver.divider_upper: 1mohm is outside the legal range, 10ohm to 10Mohm"},
		{"cut off", line("divider_lower", `"10ohm"`), "driver.divider_upper and driver.divider_lower"},
		{"saturated", line("collector", `"2kohm"`), "driver is saturated at rest"},
		{"loop", line("open_loop_gain", "1000"), "driver and feedback.open_loop_gain are both there"},
	} {
		_, err := Read(strings.NewReader(row.file), "file")
		if refused := (*Error)(nil); !errors.As(err, &refused) || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s: error %v, want %q", row.name, err, row.says)
		}
	}
}
