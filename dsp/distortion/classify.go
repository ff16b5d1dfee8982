package distortion

import (
	"math"
	"slices"
)

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
	const minimum, within = 6, 1.0 / 400
	var tones []float64
	power := 0.0
	for _, p := range peaks {
		if p.power > within*peaks[0].power {
			tones = append(tones, p.hertz)
			power += p.power
		}
	}
	if len(tones) < minimum || power < enough {
		return Signal{}, false
	}
	slices.Sort(tones)
	return Signal{Kind: Multitone, Tones: tones}, true
}
