package stage

import (
	"slices"
	"strings"
	"testing"

	"quietcross/stage/circuits"
)

// TestEveryBuiltinFileIsRegistered holds the stage files that are there against those that
// the circuits name: each once, and by its own circuit.
func TestEveryBuiltinFileIsRegistered(t *testing.T) {
	files, err := builtinFiles.ReadDir("builtin")
	if err != nil {
		t.Fatal(err)
	}
	names := builtinNames()
	for _, file := range files {
		name := strings.TrimSuffix(file.Name(), ".toml")
		if n := len(slices.DeleteFunc(slices.Clone(names), func(other string) bool { return other != name })); n != 1 {
			t.Errorf("%s is named by %d circuits", name, n)
		}
	}
	if len(names) != len(files) {
		t.Errorf("%d names, %d files", len(names), len(files))
	}
	for _, k := range circuits.Kinds() {
		if k.About == "" || len(k.Demos) == 0 {
			t.Errorf("%s has no paragraph or no stage", k.Name)
		}
		for _, name := range k.Demos {
			if spec, err := Lookup(name); err != nil || spec.Circuit != k.Name {
				t.Errorf("%s names %s, which is a %s: %v", k.Name, name, spec.Circuit, err)
			}
		}
	}
}

// TestBuiltinStagesWork sets every built-in stage every way it can be set.
func TestBuiltinStagesWork(t *testing.T) {
	for _, named := range Builtin() {
		t.Run(named.Name, func(t *testing.T) {
			spec, err := Lookup(named.Name)
			if err != nil {
				t.Fatal(err)
			}
			s, err := New(spec)
			if err != nil {
				t.Fatal(err)
			}
			rungs, err := s.DefaultLadder()
			if err != nil {
				t.Fatal(err)
			}
			for _, setting := range append(rungs, AsBuilt()) {
				b, err := s.Set(setting)
				if err != nil {
					t.Fatalf("%v: %v", setting, err)
				}
				i, err := b.Inspect(101)
				if err != nil {
					t.Fatalf("%v: %v", setting, err)
				}
				t.Logf("%v: bias %.4f IQ %.4g out %.3g P %.3g gain %.4f %.4f clip %.3f %.3f drive %.3f cross %+v",
					setting, i.Point.Bias, i.Point.Quiescent, i.Point.Output, i.Point.SupplyPower, i.GainRest, i.GainFull, i.ClipLow, i.ClipHigh, i.Drive, i.Crossover)
			}
		})
	}
}

// TestBuiltinStagesSolveAnywhere takes every built-in stage far into clipping in
// fine steps and in leaps, from whatever it was solved at before.
func TestBuiltinStagesSolveAnywhere(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		for _, setting := range []Setting{AsBuilt(), Bias(0), Quiescent(5e-3)} {
			b := mustSet(t, s, setting)
			_, hi := b.Clip()
			for _, count := range []int{300, 17, 3} {
				for i := -count; i <= count; i++ {
					if _, _, err := b.Transfer(1.6 * hi * float64(i) / float64(count)); err != nil {
						t.Fatalf("%s %v: %v", named.Name, setting, err)
					}
				}
			}
		}
	}
}
