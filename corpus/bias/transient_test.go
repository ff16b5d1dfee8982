package bias

import (
	"math"
	"math/cmplx"
	"testing"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

func evaluation(t *testing.T, name string, change func(*stage.Spec), setting stage.Setting) *Evaluation {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&spec)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	l, err := NewLadder(st, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := l.At(setting)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// finely is a rate at which little of what a crossover makes folds back.
const finely = 1536e3

// wave samples tones for a fifth of a second.
func wave(base float64, tones []stage.Tone) []float64 {
	x := make([]float64, finely/5)
	for i := range x {
		for _, tone := range tones {
			x[i] += tone.Peak * math.Cos(2*math.Pi*base*float64(tone.Order)*float64(i)/finely+tone.Phase)
		}
	}
	return x
}

// TestTransientIsMeasuredAlike holds the products of a stage without memory and of one in
// a loop against those that the program measures on a record of its output by the
// standard's method.
func TestTransientIsMeasuredAlike(t *testing.T) {
	for _, name := range []string{"pair-12w", "pair-12w-feedback"} {
		e := evaluation(t, name, nil, stage.Bias(1.1))
		peak := 0.3 * e.ladder.drive
		got, err := e.Transient(peak)
		if err != nil {
			t.Fatal(err)
		}
		x := wave(squareBase, squareTones(peak))
		if e.ladder.stage.HasMemory() {
			d, err := e.Biased().Dynamic(finely)
			if err != nil {
				t.Fatal(err)
			}
			if err := d.Process(x, x); err != nil {
				t.Fatal(err)
			}
			x = x[len(x)/4:]
		} else {
			b := e.Biased()
			for i, v := range x {
				if x[i], _, err = b.Transfer(v); err != nil {
					t.Fatal(err)
				}
			}
		}
		measured, err := distortion.DynamicIntermodulation(x, finely)
		if err != nil {
			t.Fatal(err)
		}
		figure := measured.Figure()
		want := level.FromAmplitude(figure.Value)
		if math.Abs(float64(got.SquareTotal-want)) > 0.3 {
			t.Errorf("%s: total %.2f dB, measured %.2f", name, got.SquareTotal, want)
		}
		for i, p := range measured.Products {
			re := level.FromAmplitude(p.Amplitude / measured.Sine.Amplitude)
			if math.Abs(float64(got.Square[i].Level-re)) > 1 && re > want-20 || got.Square[i].Frequency != p.Frequency && math.Abs(got.Square[i].Frequency-p.Frequency) > 1 {
				t.Errorf("%s, %g Hz: %.2f dB, measured %.2f at %g Hz", name, got.Square[i].Frequency, got.Square[i].Level, re, p.Frequency)
			}
		}
		t.Logf("%s: square and sine %.2f dB (measured %.2f), 19 and 20 kHz %.2f dB", name, got.SquareTotal, want, got.DifferenceTotal)
	}
}

// TestDifferenceIsTwoTone holds the product at 1 kHz against the same of TwoTone, which is
// re the sum of both tones: 6 dB less.
func TestDifferenceIsTwoTone(t *testing.T) {
	e := evaluation(t, "single-class-a", nil, stage.AsBuilt())
	peak := e.ladder.drive / 2
	got, err := e.Transient(peak)
	if err != nil {
		t.Fatal(err)
	}
	two, err := e.TwoTone(peak)
	if err != nil {
		t.Fatal(err)
	}
	want := level.FromAmplitude(2 * two.Difference2)
	if d := got.Difference[0]; d.Frequency != 1000 || math.Abs(float64(d.Level-want)) > 0.5 {
		t.Errorf("%g Hz: %.2f dB, want %.2f", d.Frequency, d.Level, want)
	}
}

// TestTransientFollowsTheSlewLimit takes a loop whose amplifier slews through the drive at
// which the steepest edge asks for its slew limit: of a sine V 2 pi f, of these signals the
// sum over their tones. Up to there the input pair must give x(t) = slope/limit of its
// current, for which its input is v0 artanh(x), v0 = limit/(2 pi GBW), and what of that is
// no part of the signal comes out with the closed loop's gain: the products in closed
// form. From x = 1 on there is no such input, and they rise far above.
func TestTransientFollowsTheSlewLimit(t *testing.T) {
	const slew, bandwidth = 1e6, 20e6
	e := evaluation(t, "pair-12w-feedback", func(s *stage.Spec) {
		s.Upper.ForwardGain, s.Lower.ForwardGain = 1e4, 1e4
		s.Load.Ohms, s.Feedback.Bandwidth, s.Feedback.Gain = 1000, bandwidth, 1e6
		s.Speed = circuits.Speed{Fitted: true, Slew: slew}
	}, stage.Held(0.2))
	closed := e.ladder.stage.Spec().Feedback.Closed
	two := []stage.Tone{{Order: 19, Peak: 0.5}, {Order: 20, Peak: 0.5}}
	for _, row := range []struct {
		name   string
		base   float64
		tones  []stage.Tone // at 1 V peak
		sine   int
		orders []int
		total  func(Transient) level.DB
	}{
		{"square and sine", squareBase, squareTones(1), 100, squareProducts, func(t Transient) level.DB { return t.SquareTotal }},
		{"19 and 20 kHz", differenceBase, two, 19, differenceProducts, func(t Transient) level.DB { return t.DifferenceTotal }},
	} {
		const n = 1 << 15
		slope, steepest := make([]float64, n), 0.0
		for i := range slope {
			for _, tone := range row.tones {
				w := 2 * math.Pi * row.base * float64(tone.Order)
				slope[i] -= w * tone.Peak * math.Sin(2*math.Pi*float64(tone.Order)*float64(i)/n+tone.Phase)
			}
			steepest = max(steepest, math.Abs(slope[i]))
		}
		sine := 0.0
		for _, tone := range row.tones {
			if tone.Order == row.sine {
				sine = tone.Peak
			}
		}
		at := func(x float64) (got, want float64) {
			peak := x * slew / (steepest * closed)
			answer, err := e.Transient(peak)
			if err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for _, order := range row.orders {
				var line complex128
				for i, s := range slope {
					v := slew / (2 * math.Pi * bandwidth) * math.Atanh(min(x*s/steepest, 0.999999))
					line += cmplx.Rect(v*2/n, -2*math.Pi*float64(order)*float64(i)/n)
				}
				part := cmplx.Abs(line) / (sine * peak)
				sum += part * part
			}
			return float64(row.total(answer)), 10 * math.Log10(sum)
		}
		for _, x := range []float64{0.3, 0.6, 0.9} {
			got, want := at(x)
			t.Logf("%s: at %.1f of the slew limit %.2f dB, closed form %.2f dB", row.name, x, got, want)
			if math.Abs(got-want) > 0.5 {
				t.Errorf("%s: at %.1f of the slew limit %.2f dB, closed form %.2f dB", row.name, x, got, want)
			}
		}
		under, _ := at(0.9)
		over, _ := at(1.2)
		t.Logf("%s: at 0.9 of the slew limit %.2f dB, at 1.2 of it %.2f dB", row.name, under, over)
		if !(over > under+15) {
			t.Errorf("%s: %.2f dB under the slew limit, %.2f dB over it", row.name, under, over)
		}
	}
}
