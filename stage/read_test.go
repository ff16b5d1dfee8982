package stage

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"quietcross/stage/circuits"
)

// builtinText returns the file of a built-in stage.
func builtinText(t testing.TB, name string) string {
	t.Helper()
	data, err := os.ReadFile("builtin/" + name + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// TestWriteReadsBack checks that every built-in and many random stages survive
// being written and read, to the last bit.
func TestWriteReadsBack(t *testing.T) {
	var specs []Spec
	for _, named := range Builtin() {
		spec, err := Lookup(named.Name)
		if err != nil {
			t.Fatal(err)
		}
		specs = append(specs, spec)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		for _, kind := range circuits.Kinds() {
			specs = append(specs, randomSpec(rng, kind))
		}
	}
	for _, spec := range specs {
		var text bytes.Buffer
		if err := spec.Write(&text); err != nil {
			t.Fatal(err)
		}
		again, err := Read(bytes.NewReader(text.Bytes()), "written")
		if err != nil {
			t.Fatalf("%v in\n%s", err, text.String())
		}
		if again != spec {
			t.Fatalf("read %+v\nwrote %+v", again, spec)
		}
	}
}

// TestWriteDifferentReadsBack does the same in the short form, which is shorter.
func TestWriteDifferentReadsBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var specs []Spec
	for _, named := range Builtin() {
		spec, err := Lookup(named.Name)
		if err != nil {
			t.Fatal(err)
		}
		specs = append(specs, spec)
		spec.Upper.Early = 0 // ideal where the typical device is not
		specs = append(specs, spec)
	}
	for range 50 {
		for _, kind := range circuits.Kinds() {
			specs = append(specs, randomSpec(rng, kind))
		}
	}
	for _, spec := range specs {
		var short, full bytes.Buffer
		if err := errors.Join(spec.WriteDifferent(&short), spec.Write(&full)); err != nil {
			t.Fatal(err)
		}
		if short.Len() > full.Len() {
			t.Errorf("%s: %d bytes, in full %d", spec.Name, short.Len(), full.Len())
		}
		again, err := Read(bytes.NewReader(short.Bytes()), "written")
		if err != nil || again != spec {
			t.Fatalf("%v: read %+v\nwrote %+v\n%s", err, again, spec, short.String())
		}
	}
}

// brief is a stage file as a person would write it.
const brief = `schema = 1
name = "brief"
title = ""
circuit = "complementary-multiplier"
supply = { positive = 22, negative = 22 }
source.resistance = "47ohm"
coupling.input = "100uF"
load.resistance = "8ohm"
emitter.resistance = "0.22ohm"
bias = { feed_upper = "2.2kohm", feed_lower = "2.2kohm" }
multiplier = { top = "1.1kohm", bottom = "1kohm" }
thermal = { junction_to_case = 1.5, case_to_sink = 0.5, sink_to_air = 3 }
`

// TestDevicesLeftOut checks what a device's table takes when it is left out, names its
// kind, or gives some values alone: the table in stage/circuits/README.md.
func TestDevicesLeftOut(t *testing.T) {
	power := circuits.Transistor{
		Saturation: 1e-12, Emission: 1, ForwardGain: 100, ReverseGain: 5, Leakage: 1e-11, LeakageEmission: 2, Early: 100,
		Knee: 8, BaseOhms: 2, EmitterOhms: 0.02, CollectorOhms: 0.1, Exponent: 3, Gap: 1.11, GainExponent: 1.5,
	}
	small := circuits.Transistor{
		Saturation: 2e-14, Emission: 1, ForwardGain: 180, ReverseGain: 5, Leakage: 1e-13, LeakageEmission: 2, Early: 100,
		Knee: 0.5, BaseOhms: 10, EmitterOhms: 0.1, CollectorOhms: 1, Exponent: 3, Gap: 1.11, GainExponent: 1.5,
	}
	gain80, ideal := small, circuits.Defaults().Lower
	gain80.ForwardGain = 80
	ideal.Saturation, ideal.ReverseGain, ideal.BaseOhms, ideal.ForwardGain = power.Saturation, power.ReverseGain, power.BaseOhms, 80
	for _, row := range []struct {
		table        string
		upper, lower circuits.Transistor
	}{
		{"", power, power},
		{"[upper]\nkind = \"small\"\nforward_gain = 80\n", gain80, power},
		{"[lower]\nforward_gain = 80\n", power, ideal},
	} {
		s, err := Read(strings.NewReader(brief+row.table), "brief.toml")
		if err != nil {
			t.Fatal(err)
		}
		if s.Upper != row.upper || s.Lower != row.lower || s.Multiplier.Device != small {
			t.Errorf("%q: upper %+v, lower %+v, multiplier's %+v", row.table, s.Upper, s.Lower, s.Multiplier.Device)
		}
		st, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		if i := mustSet(t, st, AsBuilt()).Point().Quiescent; !(i > 1e-3 && i < 0.5) {
			t.Errorf("%q: %g A at rest", row.table, i)
		}
	}
}

// TestFaultsComeTogether gives a file with six faults and checks that each is told, in
// the order of the lines, with key, found and legal.
func TestFaultsComeTogether(t *testing.T) {
	text := strings.NewReplacer("name = \"brief\"", "name = \"a/b\"", "positive = 22", "positive = 900", `"47ohm"`, `"47V"`, "top = \"1.1kohm\", ", "").Replace(brief) +
		"[upper]\nkind = \"huge\"\nglow = 1\n"
	_, err := Read(strings.NewReader(text), "a.toml")
	var faults Faults
	if !errors.As(err, &faults) {
		t.Fatalf("%v is no list of faults", err)
	}
	want := []string{
		"a.toml:2: name: \"a/b\" holds '/'; legal are letters",
		"a.toml:5: supply.positive: 900V is outside the legal range, 500mV to 200V",
		"a.toml:6: source.resistance: ",
		"a.toml:11: multiplier.top: missing; legal are 1ohm to 1Mohm",
		"a.toml:14: upper.kind: found huge; legal are \"power\" and \"small\"",
		"a.toml:15: upper.glow: is no key",
	}
	lines := strings.Split(err.Error(), "\n")
	for i, says := range want {
		if i >= len(lines) || !strings.HasPrefix(lines[i], says) {
			t.Errorf("line %d does not say %q:\n%v", i, says, err)
		}
	}
	if len(faults) != len(want) {
		t.Errorf("%d faults", len(faults))
	}
	if first := (*Error)(nil); !errors.As(err, &first) || first.Key != "name" {
		t.Errorf("the first is %v", first)
	}
}

// TestTitleIsQuoted checks strings that TOML must escape.
func TestTitleIsQuoted(t *testing.T) {
	spec, err := Lookup("pair-1w")
	if err != nil {
		t.Fatal(err)
	}
	spec.Title = `a "quoted" \ 'title' # with = signs <b>`
	var text bytes.Buffer
	if err := spec.Write(&text); err != nil {
		t.Fatal(err)
	}
	again, err := Read(&text, "written")
	if err != nil || again.Title != spec.Title {
		t.Errorf("title %q came back as %q, %v", spec.Title, again.Title, err)
	}
}

// TestReadRefuses changes one line of a legal file at a time and checks that the
// refusal gives file, line, key, what was found and what is legal.
func TestReadRefuses(t *testing.T) {
	legal := builtinText(t, "pair-12w")
	for _, row := range []struct {
		name, old, new string
		says           []string
	}{
		{"unknown key", "diodes = 2", "diodes = 2\nglow = 1", []string{":24: bias.glow", "there are: feed_upper, feed_lower, diodes"}},
		{"unknown table", "[load]", "[lode]", []string{":14: lode", "supply"}},
		{"wrong case", "diodes = 2", "Diodes = 2", []string{":23: bias.Diodes"}},
		{"wrong case of a table", "[load]", "[Load]", []string{":14: Load"}},
		{"missing key", "diodes = 2", "", []string{":20: bias.diodes: missing", "0 to 12"}},
		{"missing table", "[load]\nresistance = \"8ohm\"", "", []string{"load.resistance: missing"}},
		{"not a number", `positive = "20.6V"`, "positive = nan", []string{":8: supply.positive", "not a number", "500mV to 200V"}},
		{"infinite", `positive = "20.6V"`, "positive = inf", []string{":8: supply.positive", "infinite", "500mV to 200V"}},
		{"text infinite", `positive = "20.6V"`, `positive = "inf"`, []string{":8: supply.positive", "not a quantity"}},
		{"out of range", `positive = "20.6V"`, `positive = "20.6kV"`, []string{":8: supply.positive", "20.6kV is outside", "500mV to 200V"}},
		{"wrong sign", `negative = "20.6V"`, "negative = -20", []string{":9: supply.negative", "-20V is outside"}},
		{"wrong unit", `resistance = "8ohm"`, `resistance = "8V"`, []string{":15: load.resistance", `"V"`, `"ohm"`}},
		{"wrong type", `resistance = "8ohm"`, "resistance = true", []string{":15: load.resistance", "true"}},
		{"a list", `resistance = "8ohm"`, "resistance = [8]", []string{":15: load.resistance", "wanted a number"}},
		{"half a diode", "diodes = 2", "diodes = 1.5", []string{":23: bias.diodes", "whole number"}},
		{"zero where none may be", "reverse_gain = 5", "reverse_gain = 0", []string{"upper.reverse_gain", "0 is outside"}},
		{"schema", "schema = 1", "schema = 2", []string{":2: schema", "found 2", "schema 1"}},
		{"schema in words", "schema = 1", `schema = "1"`, []string{":2: schema"}},
		{"no schema", "schema = 1", "", []string{"schema: missing"}},
		{"no such circuit", `"complementary-follower"`, `"bridge"`, []string{":5: circuit", "bridge", "complementary-follower"}},
		{"circuit of a wrong type", `"complementary-follower"`, "3", []string{":5: circuit", "wanted a string"}},
		{"name with a slash", `"pair-12w"`, `"../pair"`, []string{":3: name", "legal are letters"}},
		{"empty name", `"pair-12w"`, `""`, []string{":3: name"}},
		{"title of two lines", `"12 W complementary pair (demonstration part values)"`, `"a\nb"`, []string{":4: title", "control character"}},
		{"key twice", "diodes = 2", "diodes = 2\ndiodes = 3", []string{":24:"}},
		{"no TOML", "[bias]", "[bias", []string{":20:"}},
		{"value as a table", "[load]\nresistance = \"8ohm\"", "[[load]]\nresistance = 8", []string{":14: load: is not a table"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			text := strings.Replace(legal, row.old, row.new, 1)
			if text == legal {
				t.Fatalf("%q is not in the file", row.old)
			}
			_, err := Read(strings.NewReader(text), "a.toml")
			if refused := (*Error)(nil); !errors.As(err, &refused) {
				t.Fatalf("error %v is no *Error", err)
			}
			for _, says := range append(row.says, "a.toml:") {
				if !strings.Contains(err.Error(), says) {
					t.Errorf("%q does not say %q", err, says)
				}
			}
		})
	}
}

// TestReadBounds checks that an endless file is not read to its end.
func TestReadBounds(t *testing.T) {
	endless := strings.NewReader(strings.Repeat("# comment\n", 1<<20))
	if _, err := Read(endless, "long"); err == nil || endless.Len() < 1<<22 {
		t.Errorf("error %v with %d bytes left", err, endless.Len())
	}
}

// TestDottedKeysAndInlineTables checks other spellings that TOML has.
func TestDottedKeysAndInlineTables(t *testing.T) {
	legal := builtinText(t, "pair-12w")
	spec, err := Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	without := strings.Replace(legal, "[load]\nresistance = \"8ohm\"\n", "", 1)
	for _, line := range []string{"load.resistance = 8", "load = { resistance = \"8ohm\" }"} {
		again, err := Read(strings.NewReader(strings.Replace(without, "schema = 1", line+"\nschema = 1", 1)), "a.toml")
		if err != nil || again != spec {
			t.Errorf("%s: %v", line, err)
		}
	}
}

// FuzzRead gives the reader anything: it refuses, or returns a legal spec that
// can be written and read back.
func FuzzRead(f *testing.F) {
	for _, named := range Builtin() {
		f.Add([]byte(builtinText(f, named.Name)))
	}
	f.Add([]byte("schema = 1\nname = 'a'\ntitle = ''\ncircuit = 'complementary-follower'\nload.resistance = nan\n"))
	f.Add([]byte("schema = 1\n[load]\nresistance = '1e999ohm'\n"))
	f.Add([]byte("\"sch\\u0065ma\" = 1\n[\"a.b\".c]\nd = {e = [1, {f = 2}]}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		spec, err := Read(bytes.NewReader(data), "fuzz")
		if err != nil {
			if refused := (*Error)(nil); !errors.As(err, &refused) {
				t.Fatalf("error %v is no *Error", err)
			}
			return
		}
		if err := spec.Check(); err != nil {
			t.Fatalf("read a spec that is not legal: %v", err)
		}
		var text bytes.Buffer
		if err := spec.Write(&text); err != nil {
			t.Fatal(err)
		}
		if again, err := Read(&text, "written"); err != nil || again != spec {
			t.Fatalf("wrote and read back %+v, %v; want %+v", again, err, spec)
		}
	})
}
