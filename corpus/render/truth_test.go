package render

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// The ideal pair that the truth is computed for: no base current, no Early
// effect, rails far away, so that its law is known in closed form.
const (
	idealSaturation = 1e-13             // A
	idealEmitter    = 0.22              // ohm
	idealLoad       = 8.0               // ohm
	idealDrive      = 20.0              // V peak at full scale
	idealThermal    = 25.69257836095e-3 // kT/q at 25 °C, SI 2019 constants, V
)

func idealSpec() stage.Spec {
	parts := circuits.Defaults()
	parts.Supply = circuits.Supply{Positive: 60, Negative: 60}
	parts.Load.Ohms = idealLoad
	parts.Emitter.Ohms = idealEmitter
	parts.Bias = circuits.Bias{FeedUpper: 1000, FeedLower: 1000, Diodes: 2}
	parts.Diode.Saturation = idealSaturation
	parts.Upper.Saturation = idealSaturation
	parts.Lower.Saturation = idealSaturation
	parts.Upper.ReverseGain, parts.Lower.ReverseGain = 1000, 1000
	parts.Upper.BaseOhms, parts.Lower.BaseOhms = 1e-3, 1e-3 // carries no current
	parts.Thermal.JunctionToCase, parts.Thermal.CaseToSink, parts.Thermal.SinkToAir = 2, 0.5, 2
	return stage.Spec{Name: "ideal", Title: "ideal pair", Circuit: "complementary-follower", Parts: parts}
}

// junctionCurrent is the law of one device's junction.
func junctionCurrent(v float64) float64 { return idealSaturation * math.Expm1(v/idealThermal) }

// seriesJunction returns the voltage of a junction that shares sum volts with its
// emitter resistor: the diode-and-resistor equation (Banwell and Jayakumar,
// Electronics Letters 36(4):291, 2000), solved by Newton's method from above,
// which a convex function makes monotone.
func seriesJunction(sum float64) float64 {
	v := sum + idealEmitter*idealSaturation
	if sum > 0 {
		v = min(sum, idealThermal*math.Log1p(sum/(idealEmitter*idealSaturation)))
	}
	for range 100 {
		i := junctionCurrent(v)
		step := (v + idealEmitter*i - sum) / (1 + idealEmitter*(i+idealSaturation)/idealThermal)
		v -= step
		if math.Abs(step) < 1e-16 {
			break
		}
	}
	return v
}

// idealPair returns the output for an input by Kirchhoff's laws about the ideal
// pair: bias = vN + RE·iN + vP + RE·iP, out = RL (iN - iP), in = out + vN + RE·iN -
// bias/2 (Sedra and Smith, Microelectronic Circuits, class-AB output stage; with
// emitter resistors as in Oliver, Hewlett-Packard Journal, February 1971). All
// follow from the upper junction's voltage, which is bisected for.
func idealPair(bias, in float64) float64 {
	at := func(vN float64) (input, out float64) {
		iN := junctionCurrent(vN)
		upper := vN + idealEmitter*iN
		iP := junctionCurrent(seriesJunction(bias - upper))
		out = idealLoad * (iN - iP)
		return out + upper - bias/2, out
	}
	lo, hi := -60.0, 1.0
	for range 70 {
		v := (lo + hi) / 2
		if input, _ := at(v); input > in {
			hi = v
		} else {
			lo = v
		}
	}
	_, out := at((lo + hi) / 2)
	return out
}

// harmonics returns the complex amplitudes 0..count-1 of the ideal pair's output,
// full scale 1, for a cosine of the given peak: a discrete Fourier transform of
// the closed form at points a cycle, far more than 64 times any rate used here.
func harmonics(bias, peak float64, count int) []complex128 {
	const points = 1 << 15
	y := make([]float64, points)
	for i := range points/4 + 1 { // a quarter: the ideal pair is symmetric
		v := idealPair(bias, peak*math.Cos(2*math.Pi*float64(i)/points)) / idealDrive
		y[i], y[(points-i)%points] = v, v
		y[points/2-i], y[points/2+i] = -v, -v
	}
	coefficients := fourier.NewFFT(points).Coefficients(nil, y)
	for k := range coefficients {
		coefficients[k] *= 2.0 / points
	}
	coefficients[0] /= 2
	return coefficients[:count]
}

// writeTone writes a float file of a cosine of full-scale peak.
func writeTone(t *testing.T, frequency float64, rate, frames int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "tone.wav")
	x := make([]float64, frames)
	for n := range x {
		x[n] = math.Cos(2 * math.Pi * frequency * float64(n) / float64(rate))
	}
	w, err := wave.Create(path, wave.Format{Rate: rate, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write([][]float64{x}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestRenderedToneAgainstTruth holds rendered float files against the exact
// band-limited output, computed from the closed form, over the steady part and
// up to 20 kHz: every line counts, harmonics by their complex error.
func TestRenderedToneAgainstTruth(t *testing.T) {
	const rate, frames, from, length = 48000, 14400, 4800, 4800
	settings := []stage.Setting{
		stage.Bias(0), stage.Bias(1.2), stage.Held(idealThermal / idealEmitter),
	}
	for _, c := range []struct {
		frequency float64
		worst     []level.DB // by setting, within 3 dB of the README's
	}{{1000, []level.DB{-128, -128, -128}}, {10000, []level.DB{-119, -128, -128}}} {
		path := writeTone(t, c.frequency, rate, frames)
		dir := t.TempDir()
		m, err := Run(t.Context(), dir, []Source{File{Path: path}}, Options{
			Spec: idealSpec(), Settings: settings, Levels: []level.DB{0, -20}, Drive: new(float64(idealDrive)), Match: MatchOff,
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, item := range m.Items {
			for i, r := range item.Renderings {
				_, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(r.File)))
				if err != nil {
					t.Fatal(err)
				}
				bias := m.Rungs[i].Bias
				want := harmonics(bias, idealDrive*item.Level.Amplitude(), int(20000/c.frequency)+1)
				got := errorAgainst(audio[0][from:from+length], rate, c.frequency, want)
				name := fmt.Sprintf("%g Hz, %v dB, %s", c.frequency, item.Level, m.Rungs[i].ID)
				t.Logf("%s: error %.1f dB re full scale", name, got)
				if got > c.worst[i] {
					t.Errorf("%s: error %.1f dB, want at most %v dB re full scale", name, got, c.worst[i])
				}
			}
		}
	}
}

// errorAgainst returns the RMS of the difference of y and the harmonics want, up
// to 20 kHz, re that of a full-scale sine. y holds whole cycles.
func errorAgainst(y []float64, rate int, frequency float64, want []complex128) level.DB {
	lines := fourier.NewFFT(len(y)).Coefficients(nil, y)
	step := int(math.Round(frequency * float64(len(y)) / float64(rate)))
	sum := 0.0
	for k := range int(20000*float64(len(y))/float64(rate)) + 1 {
		line := lines[k] * complex(2/float64(len(y)), 0)
		if k == 0 {
			line /= 2
		}
		if k%step == 0 && k/step < len(want) {
			line -= want[k/step]
		}
		sum += real(line)*real(line) + imag(line)*imag(line)
	}
	return level.FromPower(sum)
}
