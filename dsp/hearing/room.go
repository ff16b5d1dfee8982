package hearing

import "math"

// The noise of the room, which keeps faint differences from being heard long before the
// threshold in quiet does. It is given as a noise rating, ISO/R 1996: octave levels a + b
// N dB SPL with constants of each octave. ITU-R BS.1116 asks listening rooms for NR 10,
// and for no more than NR 15 (both from memory). What counts is by how much the rating's
// energy lies over that of NR 0, which is under the threshold in quiet: so NR 0 is no
// noise at all. In each band it is part of the ground, and as noise it limits what can be
// told by its fluctuation.

// ratingCurve holds frequency, Hz, a and b of each octave (ISO/R 1996; from memory).
var ratingCurve = [...][3]float64{
	{31.5, 55.4, 0.681},
	{63, 35.5, 0.790},
	{125, 22.0, 0.870},
	{250, 12.0, 0.930},
	{500, 4.8, 0.974},
	{1000, 0, 1.000},
	{2000, -3.5, 1.015},
	{4000, -6.1, 1.025},
	{8000, -8.0, 1.030},
}

// MaximumRoomNR is the loudest room that is legal.
const MaximumRoomNR = 60.0

// roomDensity returns the mean square of the room's noise re 20 µPa in 1 Hz at f, Hz,
// interpolated in the logarithm of frequency and held beyond the ends.
func roomDensity(nr, f float64) float64 {
	x := math.Log2(f/ratingCurve[0][0]) / math.Log2(ratingCurve[1][0]/ratingCurve[0][0])
	x = min(max(x, 0), float64(len(ratingCurve)-1))
	i := min(int(x), len(ratingCurve)-2)
	part := x - float64(i)
	octave := func(n float64) float64 {
		lo, hi := ratingCurve[i], ratingCurve[i+1]
		l := (1-part)*(lo[1]+lo[2]*n) + part*(hi[1]+hi[2]*n)
		return math.Pow(10, l/10)
	}
	return (octave(nr) - octave(0)) * math.Sqrt2 / f
}

// roomNoise returns the excitation of the room's noise in every band.
func (t *tables) roomNoise(nr float64) (noise [bandCount]float64) {
	for b := range noise {
		f := bandFrequency(b)
		noise[b] = roomDensity(nr, f) * erbWidth(f) * t.constants.earGain(f).Power() * t.dips[b]
	}
	return noise
}
