package fit

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"quietcross/dsp/distortion"
	"quietcross/stage"
	"quietcross/stage/quantity"
)

// TestEdgeOfFixed: a value whose 95 % interval reaches to less than 30 % beyond it is
// fixed by the recording. The interval of a logarithm of standard uncertainty s reaches
// to the factor e^(1.96 s).
func TestEdgeOfFixed(t *testing.T) {
	for factor, want := range map[float64]bool{1.29: true, 1.31: false} {
		p := ratioParameter("x", quantity.Ampere, 2, math.Log(factor)/1.96)
		if p.Identified != want || math.Abs(p.High-2*factor) > 1e-12 || math.Abs(p.Low-2/factor) > 1e-12 {
			t.Errorf("factor %g: %+v", factor, p)
		}
	}
}

// TestTrust: a line counts with its recorded uncertainty, half a percent of itself and
// -110 dB of the tones, as independent parts.
func TestTrust(t *testing.T) {
	tones := Observation{Amplitudes: []float64{6, 4}}
	floor := math.Pow(10, -110.0/20) * 10
	for _, c := range []struct {
		line Line
		want float64
	}{
		{Line{}, floor},
		{Line{Volts: 2}, math.Hypot(0.01, floor)},
		{Line{Volts: -2, Sigma: 0.02}, math.Hypot(0.02, math.Hypot(0.01, floor))},
	} {
		if got := uncertainty(c.line, tones); math.Abs(got/c.want-1) > 0.06 { // 3e-6 is -110.5 dB
			t.Errorf("%+v: %g, want %g", c.line, got, c.want)
		}
	}
}

// TestOrdersCompared: of a tone the harmonics to the 15th, of two tones the products to
// the fifth order.
func TestOrdersCompared(t *testing.T) {
	tone := &distortion.Tone{}
	for n := 2; n <= 20; n++ {
		tone.Harmonics = append(tone.Harmonics, distortion.Harmonic{Order: n})
	}
	if lines := ofTone(tone, 1).Lines; len(lines) != 14 || lines[13].N1 != 15 {
		t.Errorf("%d harmonics: %+v", len(lines), lines)
	}
	two := &distortion.TwoTones{}
	for n := 1; n <= 6; n++ {
		two.Products = append(two.Products, distortion.Product{N1: -n, N2: 1})
	}
	if lines := ofTwoTones(two, 1).Lines; len(lines) != 4 || lines[3].N1 != -4 {
		t.Errorf("%d products: %+v", len(lines), lines)
	}
	for l, want := range map[Line]bool{
		{N1: 9}: true, {N1: 10}: false, {N1: 1, N2: 2}: true, {N1: 1, N2: -3}: false, {N1: 0, N2: 2}: false,
	} {
		if shown(l) != want {
			t.Errorf("%d, %d: shown %v", l.N1, l.N2, !want)
		}
	}
}

// TestEdgesOfLevels: what lies 120 dB under the tones is of no account, and a line is
// resolved that stands out by more than three standard deviations.
func TestEdgesOfLevels(t *testing.T) {
	o := Observation{Amplitudes: []float64{1}}
	for db, want := range map[float64]string{-119: "−119.0", -121: "none"} {
		if got := levelOf(math.Pow(10, db/20), o); got != want {
			t.Errorf("%g dB: %q, want %q", db, got, want)
		}
	}
	for volts, want := range map[float64]bool{3.1: true, 2.9: false, -3.1: true, -2.9: false} {
		if got := resolved(Line{Volts: volts, Sigma: 1}); got != want {
			t.Errorf("%g deviations: resolved %v", volts, got)
		}
	}
}

// TestEdgesOfStatements stands on each side of what changes the words.
func TestEdgesOfStatements(t *testing.T) {
	m := &model{coordinates: []coordinate{{key: "a"}, {key: "b"}}}
	type found struct {
		correlation, misfit, inPhase, quadrature float64 // the lines in units of their deviation
		levels                                   int
		ratio                                    float64 // of two tones
	}
	good := found{inPhase: 100, levels: 3, ratio: 116.7, misfit: 1}
	said := func(f found) string {
		r := &Result{Misfit: f.misfit}
		for range f.levels {
			r.Observations = append(r.Observations, Observation{Frequencies: []float64{60, 60 * f.ratio}, Amplitudes: []float64{1}})
		}
		r.Observations[0].Lines = []Line{{Volts: f.inPhase, Quadrature: f.quadrature, Sigma: 1}}
		r.state(m, mat.NewSymDense(2, []float64{1, f.correlation, f.correlation, 1}))
		return strings.Join(r.Statements, "; ")
	}
	for _, c := range []struct {
		words          string
		inside, beyond func(*found)
	}{
		{"move together", func(f *found) { f.correlation = -0.981 }, func(f *found) { f.correlation = 0.979 }},
		{"the fit is poor", func(f *found) { f.misfit = 3.01 }, func(f *found) { f.misfit = 2.99 }},
		{"out of phase", func(f *found) { f.quadrature = 20.1 }, func(f *found) { f.quadrature = 19.9 }},
		{"out of phase", func(f *found) { f.inPhase, f.quadrature = 4, 3.1 }, func(f *found) { f.inPhase, f.quadrature = 4, 2.9 }},
		{"hardly stands out", func(f *found) { f.inPhase = 2.9 }, func(f *found) { f.inPhase = 3.1 }},
		{"levels only", func(f *found) { f.levels = 2 }, func(f *found) { f.levels = 3 }},
		{"times the low one", func(f *found) { f.ratio = 30 * 1.0009 }, func(f *found) { f.ratio = 30 * 1.0011 }},
	} {
		inside, beyond := good, good
		c.inside(&inside)
		c.beyond(&beyond)
		if got := said(inside); !strings.Contains(got, c.words) {
			t.Errorf("%+v: %q lacks %q", inside, got, c.words)
		}
		if got := said(beyond); strings.Contains(got, c.words) {
			t.Errorf("%+v: %q has %q", beyond, got, c.words)
		}
	}
}

// TestEdgesOfUnbound: an interval that is open to one side of a misfit is told only where
// the model explains the recording.
func TestEdgesOfUnbound(t *testing.T) {
	for misfit, want := range map[float64]bool{2.99: true, 3.01: false} {
		r := &Result{Misfit: misfit, Parameters: []Parameter{{Key: "a", Unit: quantity.Ampere}}}
		r.state(&model{}, nil)
		if got := strings.Contains(strings.Join(r.Statements, "; "), "does not fix a"); got != want {
			t.Errorf("misfit %g: told %v", misfit, got)
		}
	}
}

// TestEdgeOfFixedBias: a bias is fixed whose 95 % interval is narrower than 0.1 V to either
// side.
func TestEdgeOfFixedBias(t *testing.T) {
	m, theta, _ := recovered(t, 1)
	for half, want := range map[float64]bool{0.099: true, 0.101: false} {
		sigma, r := half/1.959964, &Result{}
		if err := r.fill(m, theta, mat.NewSymDense(1, []float64{sigma * sigma})); err != nil {
			t.Fatal(err)
		}
		if p := r.Parameters[0]; p.Identified != want || math.Abs(p.High-p.Value-half) > 1e-4*half {
			t.Errorf("%g V to either side: %+v", half, p)
		}
	}
}

// TestEdgeOfOpenDirection: data that bear on one combination of values 10^14 times less
// than on another leave it open.
func TestEdgeOfOpenDirection(t *testing.T) {
	for less, open := range map[float64]bool{0.9e14: false, 1.1e14: true} {
		b := minimum{normal: mat.NewSymDense(2, []float64{1, 0, 0, 1 / less})}
		if got := b.covariance(1) == nil; got != open {
			t.Errorf("%g times less: open %v", less, got)
		}
	}
}

// TestEdgeOfTheSurvey: biases are looked at up to that of ten times the maximum current of
// the stage's own ladder, and up to nine tenths of what a source gives where that is less.
func TestEdgeOfTheSurvey(t *testing.T) {
	for _, name := range []string{"pair-12w", "pair-1w"} {
		st, err := stage.New(spec(t, name))
		if err != nil {
			t.Fatal(err)
		}
		ladder, err := st.DefaultLadder()
		if err != nil {
			t.Fatal(err)
		}
		_, high, err := st.HeldRange()
		if err != nil {
			t.Fatal(err)
		}
		most := 10 * ladder[len(ladder)-1].Value()
		t.Logf("%s: ten times %g A, a source gives %g A", name, most, high)
		got, err := surveyTop(st)
		if err != nil {
			t.Fatal(err)
		}
		b, err := st.Set(stage.Held(min(most, 0.9*high)))
		if err != nil {
			t.Fatal(err)
		}
		if want := b.Point().Bias; math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%s: up to %g V, want %g", name, got, want)
		}
	}
}

// TestEdgeOfReach: a model knows inputs of up to 1.2 times its clipping. A tone clipped hard
// at 1 of a sine of x has a fundamental of 2/pi (x asin(1/x) + sqrt(1 - 1/x²)): 1.10 at an
// x of 1.2, and 1.24 at twice that. What is recorded beyond is refused.
func TestEdgeOfReach(t *testing.T) {
	m, theta, _ := recovered(t, 1)
	b, err := m.biased(theta)
	if err != nil {
		t.Fatal(err)
	}
	low, high := b.Clip()
	out, _, err := b.Transfer(min(-low, high))
	if err != nil {
		t.Fatal(err)
	}
	clip := math.Abs(out)
	for part, want := range map[float64]error{0.95: nil, 1.06: nil, 1.15: errBeyond} {
		_, err := m.predict(theta, []Observation{{Frequencies: []float64{1000}, Amplitudes: []float64{part * clip}, Lines: []Line{{N1: 3}}}})
		if err != want {
			t.Errorf("%g of the clipping: %v, want %v", part, err, want)
		}
	}
}
