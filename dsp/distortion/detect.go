package distortion

import (
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

// Kind says what a record is, and so how it can be measured.
type Kind uint8

// The kinds.
const (
	Programme       Kind = iota // music, speech, noise: none of the others
	SingleTone                  // one steady tone, with its harmonics
	TwoTone                     // a strong and a weak steady tone
	DifferenceTones             // two steady tones of like level
	SquareAndTone               // the dynamic intermodulation signal: 3.15 kHz square and 15 kHz sine
	Multitone                   // six or more steady tones
	Ladder                      // one tone at three or more levels in turn, see [Steps]
	Silence                     // nothing, or DC alone
)

var kindNames = [...]string{
	Programme: "programme", SingleTone: "tone", TwoTone: "two-tone", DifferenceTones: "difference-tones",
	SquareAndTone: "square-and-tone", Multitone: "multitone", Ladder: "ladder", Silence: "silence",
}

// String returns the kind's name.
func (k Kind) String() string {
	if int(k) >= len(kindNames) {
		return fmt.Sprintf("Kind(%d)", uint8(k))
	}
	return kindNames[k]
}

// MarshalText writes the kind's name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// ParseKind returns the kind of a name that [Kind.String] gives.
func ParseKind(name string) (Kind, error) {
	if i := slices.Index(kindNames[:], name); i >= 0 {
		return Kind(i), nil
	}
	return 0, fmt.Errorf("distortion: no signal kind %q, legal are %q", name, kindNames)
}

// Signal is what a record was found to be.
type Signal struct {
	Kind Kind
	// Tones are the frequencies in hertz found for a tone or a ladder (one), two
	// tones, the square and the sine (lower first), or a multitone (ascending).
	Tones []float64
}

// silent is the mean square below which a record is silence: -140 dB re full
// scale, below the dither of any integer format but 24 bits'.
const silent = 1e-14

// Detect finds out what x is. Rate is in hertz. Records that are constant, or
// whose AC part is below -140 dB, are silence. Short, non-finite or empty records
// return an error.
func Detect(x []float64, rate float64) (Signal, error) {
	switch err := checkSamples(x, rate); {
	case err == ErrSilence:
		return Signal{Kind: Silence}, nil
	case err != nil:
		return Signal{}, err
	}
	mean := level.Mean(x)
	if rms := level.RMS(x); rms*rms-mean*mean < silent {
		return Signal{Kind: Silence}, nil
	}
	peaks, total := findPeaks(coarse(x, rate, fitWindow))
	if s, ok := classify(peaks, total); ok && steady(x, rate, s.Tones) {
		return s, nil
	}
	if hertz, ok := ladder(x, rate); ok {
		return Signal{Kind: Ladder, Tones: []float64{hertz}}, nil
	}
	return Signal{Kind: Programme}, nil
}

// peak is one line of a spectrum with the power of its main lobe.
type peak struct{ hertz, power float64 }

// findPeaks returns the strongest lines of a spectrum, strongest first, and the
// power of everything, DC apart.
func findPeaks(s *spectrum.Spectrum) (peaks []peak, total float64) {
	const most = 100
	reach := fitWindow.HalfWidth()
	left := slices.Clone(s.Power)
	clear(left[:min(reach, len(left))])
	for _, p := range left {
		total += p
	}
	for range most {
		at := 0
		for i, p := range left {
			if p > left[at] {
				at = i
			}
		}
		if left[at] < total*1e-9 {
			break
		}
		lobe := left[max(0, at-reach):min(len(left), at+reach+1)]
		power := 0.0
		for i, p := range lobe {
			power += p
			lobe[i] = 0
		}
		if _, hertz, ok := s.Strongest(s.Frequency(at), s.Frequency(at)); ok {
			peaks = append(peaks, peak{hertz, power})
		}
	}
	return peaks, total
}

// classify says which kind the lines make, false when they hold too little of the
// power for any.
func classify(peaks []peak, total float64) (Signal, bool) {
	const enough = 0.85
	if len(peaks) == 0 {
		return Signal{}, false
	}
	if s, ok := squareAndSine(peaks, total*enough); ok {
		return s, true
	}
	if second := foreign(peaks); second.power > total*0.01 && peaks[0].power+second.power > enough*total {
		tones := []float64{peaks[0].hertz, second.hertz}
		slices.Sort(tones)
		kind := TwoTone
		if like := second.power / peaks[0].power; like > 0.25 {
			kind = DifferenceTones
		}
		return Signal{Kind: kind, Tones: tones}, true
	}
	if hertz, power := fundamental(peaks); power > enough*total {
		return Signal{Kind: SingleTone, Tones: []float64{hertz}}, true
	}
	return multitone(peaks, enough*total)
}

// foreign returns the strongest line that is no harmonic of the first.
func foreign(peaks []peak) peak {
	for _, p := range peaks[1:] {
		if !isHarmonic(p.hertz, peaks[0].hertz, MaxOrder) {
			return p
		}
	}
	return peak{}
}

func isHarmonic(hertz, fundamental, highest float64) bool {
	n := math.Round(hertz / fundamental)
	return n >= 1 && n <= highest && math.Abs(hertz/(n*fundamental)-1) < 1e-3
}

// fundamental returns which of the lines within 3 dB of the strongest has most
// power in its multiples, and that power.
func fundamental(peaks []peak) (hertz, power float64) {
	for _, p := range peaks {
		if p.power < peaks[0].power/2 {
			break
		}
		if sum := harmonicPower(peaks, p.hertz); sum > power {
			hertz, power = p.hertz, sum
		}
	}
	return hertz, power
}

// harmonicPower returns the power of the lines at multiples of hertz, of any order
// that a deeply starved stage makes.
func harmonicPower(peaks []peak, hertz float64) float64 {
	sum := 0.0
	for _, p := range peaks {
		if isHarmonic(p.hertz, hertz, 200) {
			sum += p.power
		}
	}
	return sum
}

// near reports whether a frequency is that of a test signal: within 1 %.
func near(hertz, nominal float64) bool { return math.Abs(hertz/nominal-1) < 0.01 }

// squareAndSine looks for the dynamic intermodulation signal of IEC 60268-3.
func squareAndSine(peaks []peak, enough float64) (Signal, bool) {
	square := peaks[0].hertz
	if !near(square, squareHertz) {
		return Signal{}, false
	}
	for _, p := range peaks[1:min(len(peaks), 6)] {
		if near(p.hertz, sineHertz) && harmonicPower(peaks, square)+p.power > enough && p.power > 1e-3*peaks[0].power {
			return Signal{Kind: SquareAndTone, Tones: []float64{square, p.hertz}}, true
		}
	}
	return Signal{}, false
}

// multitone looks for six or more lines within 26 dB of the strongest.
func multitone(peaks []peak, enough float64) (Signal, bool) {
	const least, within = 6, 1.0 / 400
	var tones []float64
	power := 0.0
	for _, p := range peaks {
		if p.power > within*peaks[0].power {
			tones = append(tones, p.hertz)
			power += p.power
		}
	}
	if len(tones) < least || power < enough {
		return Signal{}, false
	}
	slices.Sort(tones)
	return Signal{Kind: Multitone, Tones: tones}, true
}

// steady reports whether each tone is as strong in the first third of x as in the
// last, within 1 dB: music and a ladder of levels are not.
func steady(x []float64, rate float64, tones []float64) bool {
	third := len(x) / 3
	if third < minSamples {
		return true
	}
	first, last := coarse(x[:third], rate, fitWindow), coarse(x[len(x)-third:], rate, fitWindow)
	for _, hertz := range tones {
		reach := 4 * first.LineWidth()
		a, b := first.MeanSquare(hertz-reach, hertz+reach), last.MeanSquare(hertz-reach, hertz+reach)
		if !(math.Abs(float64(level.FromPower(a/b))) < 1) {
			return false
		}
	}
	return true
}
