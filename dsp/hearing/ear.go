package hearing

import (
	"math"
	"sort"

	"quietcross/dsp/level"
)

// Threshold in quiet, and its division between what does not reach the inner ear
// and the noise of the inner ear itself. Of the difference from the threshold at 1 kHz
// outer and middle ear are given six tenths below 1 kHz (the division of ITU-R BS.1387,
// 2.1.4 and 2.1.6) and a fitted part above; the rest is internal noise. What
// internal noise each filter must have for tones to be heard at the standard's
// threshold is found in calibrate.

// quiet is the threshold of hearing T_f for binaural listening in a free field, Hz
// and dB SPL: ISO 226:2003 Table 1 (equal to ISO 389-7), from memory; 14, 16 and
// 18 kHz after ISO 389-7, from memory.
var quiet = [...][2]float64{
	{20, 78.5},
	{25, 68.7},
	{31.5, 59.5},
	{40, 51.1},
	{50, 44.0},
	{63, 37.5},
	{80, 31.5},
	{100, 26.5},
	{125, 22.1},
	{160, 17.9},
	{200, 14.4},
	{250, 11.4},
	{315, 8.6},
	{400, 6.2},
	{500, 4.4},
	{630, 3.0},
	{800, 2.2},
	{1000, 2.4},
	{1250, 3.5},
	{1600, 1.7},
	{2000, -1.3},
	{2500, -4.2},
	{3150, -6.0},
	{4000, -5.4},
	{5000, -1.5},
	{6300, 6.0},
	{8000, 12.6},
	{10000, 13.9},
	{12500, 12.3},
	{14000, 18.4},
	{16000, 40.2},
	{18000, 73.2},
}

// QuietThreshold returns the level in dB SPL at which a steady tone of frequency f
// (Hz, above 0) is just heard in quiet, interpolated in the logarithm of frequency
// from ISO 226:2003 Table 1 and held level or extrapolated beyond its ends.
func QuietThreshold(f float64) level.DB {
	i := sort.Search(len(quiet), func(i int) bool { return quiet[i][0] >= f })
	i = min(max(i, 1), len(quiet)-1)
	a, b := quiet[i-1], quiet[i]
	part := math.Log(f/a[0]) / math.Log(b[0]/a[0])
	return level.DB(a[1] + part*(b[1]-a[1]))
}

// lowShare is the part of the threshold's rise below 1 kHz that outer and middle ear
// cause.
const lowShare = 0.6

// earGain returns the gain of outer and middle ear at f, Hz, re 1 kHz.
func (c *constants) earGain(f float64) level.DB {
	rise := QuietThreshold(f) - QuietThreshold(1000)
	if f < 1000 {
		return -lowShare * rise
	}
	return level.DB(-c.highShare) * rise
}

// erbWidth returns the equivalent rectangular bandwidth of the ear's filter at f,
// both Hz: 24.7 (4.37 f/kHz + 1) (Glasberg and Moore, Hearing Research 47, 1990).
func erbWidth(f float64) float64 { return 24.7 * (4.37*f/1000 + 1) }

// erbNumber returns how many such bandwidths lie below f: 21.4 lg(4.37 f/kHz + 1).
func erbNumber(f float64) float64 { return 21.4 * math.Log10(4.37*f/1000+1) }

// erbFrequency is the inverse of erbNumber, Hz.
func erbFrequency(n float64) float64 { return (math.Pow(10, n/21.4) - 1) * 1000 / 4.37 }

// bandFrequency and cellFrequency return the centres of band and cell i, Hz.
func bandFrequency(i int) float64 { return erbFrequency(firstBand + bandStep*float64(i)) }
func cellFrequency(i int) float64 { return erbFrequency(firstCell + cellStep*float64(i)) }
