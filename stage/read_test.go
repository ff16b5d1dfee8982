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
