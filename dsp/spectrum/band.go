package spectrum

import (
	"math"

	"quietcross/dsp/level"
)

// Band is a fractional-octave band.
type Band struct {
	Mid, Low, High float64 // hertz: exact mid-band frequency and band edges
}

// ThirdOctaves returns the third-octave bands of IEC 61260-1 whose mid-band
// frequencies lie from low to high hertz (above 0), lowest first: base ten, so
// that Mid = 1000·10^(n/10), and edges at Mid·10^(±1/20).
func ThirdOctaves(low, high float64) []Band {
	const tiny = 1e-9 // 1000·10^(n/10) may round past a limit equal to it
	if !(low > 0) {
		panic("spectrum: third octaves from a frequency that is not above 0")
	}
	first := int(math.Ceil(10*math.Log10(low/1000) - tiny))
	last := int(math.Floor(10*math.Log10(high/1000) + tiny))
	var bands []Band
	for n := first; n <= last; n++ {
		at := func(tenths float64) float64 { return 1000 * math.Pow(10, tenths/10) }
		bands = append(bands, Band{Mid: at(float64(n)), Low: at(float64(n) - 0.5), High: at(float64(n) + 0.5)})
	}
	return bands
}

// BandLevels returns the level of each band in dB re a full-scale sine: a sine of
// peak amplitude 1 inside a band reads 0 dB. A band without energy reads -Inf. A
// band narrower than the window's main lobe reads its neighbours' energy too.
func (s *Spectrum) BandLevels(bands []Band) []level.DB {
	levels := make([]level.DB, len(bands))
	for i, b := range bands {
		levels[i] = level.FromPower(2 * s.MeanSquare(b.Low, b.High))
	}
	return levels
}
