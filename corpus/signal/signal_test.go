package signal

import (
	"math"
	"strings"
	"testing"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

func everything() []Material { return append(List(), Standards()...) }

func TestLookupFindsEveryName(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range everything() {
		got, err := Lookup(m.Name)
		if err != nil || got.Title != m.Title {
			t.Errorf("Lookup(%q) = %q, %v", m.Name, got.Title, err)
		}
		if seen[m.Name] || m.Title == "" || m.Shows == "" {
			t.Errorf("%q: not unique, or without title or purpose", m.Name)
		}
		seen[m.Name] = true
	}
	_, err := Lookup("no-such-sound")
	if err == nil {
		t.Fatal("an unknown name was found")
	}
	for name := range seen {
		if !strings.Contains(err.Error(), name) {
			t.Errorf("error %q does not offer %q", err, name)
		}
	}
}

// Every material, at rates from the lowest up, has the shape it states, a
// stated peak, no offset and ends that do not click.
func TestMaterialsKeepTheirPromises(t *testing.T) {
	for _, m := range everything() {
		for _, rate := range []int{8000, 44100, 48000} {
			if m.Required > toneLimit*float64(rate) {
				continue
			}
			x := must(t, m.Name, rate, 1)
			if frames, err := m.Frames(rate); err != nil || len(x) != m.Channels || len(x[0]) != frames || frames != int(m.Seconds*float64(rate)) {
				t.Errorf("%s at %d: %d channels of %d, %d said: %v", m.Name, rate, len(x), len(x[0]), frames, err)
			}
			for _, c := range x {
				checkChannel(t, m, rate, c)
			}
		}
	}
}

func checkChannel(t *testing.T, m Material, rate int, x []float64) {
	t.Helper()
	var sum, maximum float64
	for _, v := range x {
		sum += v
		maximum = max(maximum, math.Abs(v))
	}
	limit := max(m.Peak, -1).Amplitude()
	if maximum > limit*(1+1e-12) {
		t.Errorf("%s at %d: peak %g above %g", m.Name, rate, maximum, limit)
	}
	if mean := sum / float64(len(x)); math.Abs(mean) > 2e-4*limit {
		t.Errorf("%s at %d: offset %g", m.Name, rate, mean)
	}
	for i := range rate / 1000 { // the first and last millisecond
		if a := max(math.Abs(x[i]), math.Abs(x[len(x)-1-i])); a > 0.01*limit {
			t.Errorf("%s at %d: %g at %d from an end", m.Name, rate, a, i)
			return
		}
	}
}

func TestAtMovesEveryLevel(t *testing.T) {
	for _, name := range []string{"soft-speech", "ladder", "dynamic-3150-15k"} {
		m, err := Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		soft, err := m.At(m.Peak - 20)
		if err != nil {
			t.Fatal(err)
		}
		x, err := soft.Generate(48000, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range must(t, name, 48000, 1)[0] {
			if math.Abs(x[0][i]-v/10) > 1e-14 {
				t.Fatalf("%s, sample %d: %g, want a tenth of %g", name, i, x[0][i], v)
			}
		}
		for i, tone := range m.Tones {
			if math.Abs(float64(tone.Level-soft.Tones[i].Level)-20) > 1e-12 {
				t.Errorf("%s: tone %d stated at %g, was %g", name, i, float64(soft.Tones[i].Level), float64(tone.Level))
			}
		}
		if m.Kind == distortion.Programme && math.Abs(float64(m.Loudness-soft.Loudness)-20) > 1e-12 {
			t.Errorf("%s: loudness stated at %g", name, float64(soft.Loudness))
		}
	}
}

func TestIllegalRequestsAreRefused(t *testing.T) {
	m, err := Lookup("tone")
	if err != nil {
		t.Fatal(err)
	}
	for _, rate := range []int{-1, 0, 7999, 384001} {
		if _, err := m.Generate(rate, 1); err == nil || !strings.Contains(err.Error(), "8000") {
			t.Errorf("rate %d: %v", rate, err)
		}
	}
	for _, peak := range []float64{math.NaN(), math.Inf(-1), -141, 0.1} {
		if _, err := m.At(level.DB(peak)); err == nil {
			t.Errorf("a peak of %g dBFS was accepted", peak)
		}
	}
	if _, err := (Material{}).Generate(48000, 1); err == nil {
		t.Error("a material without a recipe was generated")
	}
}
