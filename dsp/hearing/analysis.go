package hearing

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/transform"
)

// From samples to cells, at three resolutions. Low filters ring long and need fine
// lines; high ones follow events of a few milliseconds, such as the crossings of a
// biased pair, and need short windows. Bands up to 700 Hz are heard through Hann
// windows of 43 ms every 10.7 ms, up to 2.5 kHz of 21 ms every 5.3 ms, and above of
// 10.7 ms (an equivalent rectangular duration of 4 ms) every 2.7 ms. One step of
// 10.7 ms holds one, two and four of them with a common centre. Lengths are in
// seconds, so that every sampling rate sees the same windows; a transform is as long
// as the next power of two.
const (
	stepTime    = 512.0 / 48000  // s
	longWindow  = 2048.0 / 48000 // s
	resolutions = 3
	frameCount  = 1 + 2 + 4 // in a step
)

// upTo holds the frequency, Hz, up to which each resolution serves.
var upTo = [resolutions]float64{700, 2500, math.Inf(1)}

// share is a part of a line's power that goes to a cell.
type share struct {
	line, cell int32
	part       float64
}

// resolution holds the tables of one window length.
type resolution struct {
	from, to int // bands
	window   []float64
	size     int // of the transform
	shares   []share
	scale    float64 // of line powers: full-scale mean square to 1
	filters  *filterTable
}

func newResolution(c *constants, rate float64, i, from int) *resolution {
	r := &resolution{from: from, to: from}
	for r.to < bandCount && bandFrequency(r.to) < upTo[i] {
		r.to++
	}
	n := int(math.Round(longWindow * rate / float64(int(1)<<i)))
	r.window = make([]float64, n)
	energy := 0.0
	for k := range r.window {
		s := math.Sin(math.Pi * (float64(k) + 0.5) / float64(n))
		r.window[k] = s * s
		energy += s * s * s * s
	}
	for r.size = 8; r.size < n; r.size *= 2 {
	}
	r.scale = 2 / (energy * float64(r.size))
	spacing := rate / float64(r.size)
	r.filters = newFilterTable(c, r.from, r.to, 1.5/float64(n)*rate)
	for line := 1; line <= r.size/2; line++ {
		f := float64(line) * spacing
		r.shareLine(line, f, c.earGain(f).Power())
	}
	return r
}

// shareLine divides a line at f between the two cells around it and weights it by the
// gain of outer and middle ear.
func (r *resolution) shareLine(line int, f float64, gain float64) {
	at := (erbNumber(f) - firstCell) / cellStep
	low := int(math.Floor(at))
	for k, part := range [2]float64{1 - (at - float64(low)), at - float64(low)} {
		if c := low + k; c >= r.filters.from && c < r.filters.to && part > 0 {
			r.shares = append(r.shares, share{int32(line), int32(c), part * gain})
		}
	}
}

// tables holds what depends on rate and constants alone. It is read-only.
type tables struct {
	constants constants
	rate      float64
	step      int // samples
	levels    [resolutions]*resolution
	noise     [bandCount]float64 // internal noise, energy
	ripple    [bandCount]float64 // fluctuation of Gaussian noise
	dips      [bandCount]float64 // part of Gaussian noise's mean energy that its dips leave to mask
	narrow    [bandCount]float64 // growth of the noise that it makes, towards narrow bands
}

// resolutionOf returns which resolution serves a band.
func resolutionOf(band int) int {
	f := bandFrequency(band)
	for i, top := range upTo {
		if f < top {
			return i
		}
	}
	return resolutions - 1
}

// framesOf returns how many frames of a resolution lie in a step.
func framesOf(resolution int) int { return 1 << resolution }

// analyser turns samples into the cells of each frame of a step.
type analyser struct {
	tables     *tables
	gain       float64 // full-scale mean square to energy re 20 µPa
	transforms [resolutions]*transform.Real
	frame      []float64
	lines      []float64
}

func newAnalyser(t *tables, playback level.DB) *analyser {
	a := &analyser{tables: t, gain: 2 * playback.Power()}
	for i, r := range t.levels {
		a.transforms[i] = transform.New(r.size)
	}
	a.frame = make([]float64, t.levels[0].size)
	a.lines = make([]float64, t.levels[0].size/2+1)
	return a
}

// cells holds the cells of each frame of a step: one long frame, two middle, four
// short ones.
type cells [frameCount][cellCount]float64

// analyse writes the cells of the step whose long window is the whole of buffer.
func (a *analyser) analyse(dst *cells, buffer []float64) {
	at := 0
	for i, r := range a.tables.levels {
		for j := range framesOf(i) {
			r.cells(&dst[at], buffer[a.tables.offset(i, j):], a, i)
			at++
		}
	}
}

// level returns the mean square, re 20 µPa, of the step in the middle of a buffer.
func (a *analyser) level(buffer []float64) float64 {
	from := (len(buffer) - a.tables.step) / 2
	total := 0.0
	for _, x := range buffer[from : from+a.tables.step] {
		total += x * x
	}
	return a.gain * total / float64(a.tables.step)
}

// offset returns where in the long window frame j of a resolution begins.
func (t *tables) offset(resolution, j int) int {
	n := float64(framesOf(resolution))
	shift := float64(t.step) * ((float64(j)+0.5)/n - 0.5)
	middle := float64(len(t.levels[0].window)-len(t.levels[resolution].window)) / 2
	return max(0, int(math.Floor(middle+shift)))
}

// cells writes the cells of one frame, which begins with samples.
func (r *resolution) cells(dst *[cellCount]float64, samples []float64, a *analyser, i int) {
	clear(dst[:])
	frame := a.frame[:r.size]
	any := false
	for k, w := range r.window {
		x := samples[k] * w
		frame[k] = x
		any = any || x != 0
	}
	if !any {
		return
	}
	clear(frame[len(r.window):])
	a.transforms[i].Powers(a.lines, frame, r.scale*a.gain)
	for _, s := range r.shares {
		dst[s.cell] += s.part * a.lines[s.line]
	}
}
