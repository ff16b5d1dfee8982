package server

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"
)

const (
	scanRungs      = 9    // renderings that map residual against current
	levelTolerance = 0.15 // decibels between the level asked and the level played
	solveLimit     = 8    // renderings spent on one level
	minimumRange   = 3.0  // decibels between the ends of a material worth testing
	mostRange      = 90.0
	mostSeconds    = 30.0 // longest clip: what a phone decodes and holds
)

// ladder finds the rung of one material with a wanted residual, renders it once
// and keeps what it rendered.
type ladder struct {
	clips    Clips
	material string
	record   func(material, stimulus string, r Rung) error // makes a rung durable

	rendering sync.Mutex // one rendering at a time
	rate      int
	stimulus  string  // hash of what makes the clips
	peak      float64 // maximum of reference and scan
	loudness  float64 // of the reference, LUFS
	ref       *sound  // in memory, to compare with
	played    *stored // the same, as it is sent
	spool     *spool

	mu    sync.Mutex
	rungs []asked // ascending current, from the lowest to the optimum
	fault error   // why the material cannot be offered
}

// asked is a rung with the current it was asked for, which may differ in the
// last digits from the one the stage settled at.
type asked struct {
	current float64
	Rung
	clip *stored
}

// sound is one stimulus in memory, planar, in single precision.
type sound struct{ samples [][]float32 }

func newSound(audio [][]float64) *sound {
	s := &sound{samples: make([][]float32, len(audio))}
	for c, channel := range audio {
		s.samples[c] = make([]float32, len(channel))
		for i, x := range channel {
			s.samples[c][i] = float32(x)
		}
	}
	return s
}

func (s *sound) scale(gain float64) {
	for _, channel := range s.samples {
		for i := range channel {
			channel[i] = float32(float64(channel[i]) * gain)
		}
	}
}

func (s *sound) frames() int { return len(s.samples[0]) }

func (s *sound) size() (channels, frames int) { return len(s.samples), s.frames() }

func (s *sound) read(dst []float32, channel, from int) error {
	copy(dst, s.samples[channel][from:])
	return nil
}

// prepare renders the reference, the scan and the rung of a triangle test, once.
func (l *ladder) prepare(set Settings) error {
	err := l.survey()
	if err == nil && set.Method == Triangle {
		_, _, err = l.current(set.Quiescent)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fault = err
	return err
}

// why returns what made the last preparation fail.
func (l *ladder) why() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.fault
}

func (l *ladder) survey() error {
	l.rungs = nil // of a preparation that failed; nobody else reads them yet
	l.ref = nil
	rate, reference, err := l.clips.Reference(l.material)
	if err != nil {
		return fmt.Errorf("panel: reference of %q: %w", l.material, err)
	}
	if err := checkAudio(rate, reference); err != nil {
		return fmt.Errorf("panel: reference of %q: %w", l.material, err)
	}
	if l.stimulus, err = l.clips.Stimulus(l.material); err != nil {
		return fmt.Errorf("panel: %q: %w", l.material, err)
	}
	l.rate, l.ref = rate, newSound(reference)
	if l.played, err = l.spool.put(reference); err != nil {
		return err
	}
	// Peaks between the scanned rungs are a little higher at most.
	if l.peak, err = l.scan(reference); err != nil {
		return err
	}
	l.peak, l.loudness = max(l.peak, 1e-6), loudnessOf(l.ref.samples, rate)
	return nil
}

func checkAudio(rate int, audio [][]float64) error {
	if rate < 8000 || rate > 384000 {
		return fmt.Errorf("rate %d Hz, want 8000 to 384000", rate)
	}
	if n := len(audio); n < 1 || n > 2 {
		return fmt.Errorf("%d channels, want 1 or 2", n)
	}
	frames := len(audio[0])
	if s := float64(frames) / float64(rate); s < 0.2 || s > mostSeconds {
		return fmt.Errorf("%.3g s long, want 0.2 to %g s: choose a stretch", s, mostSeconds)
	}
	for _, channel := range audio {
		if len(channel) != frames {
			return fmt.Errorf("channels of %d and %d frames", frames, len(channel))
		}
	}
	return nil
}

// scan renders rungs from the lowest current to the highest, keeps those up to
// the optimum and returns the maximum peak.
func (l *ladder) scan(reference [][]float64) (peak float64, err error) {
	lo, hi := l.clips.Range(l.material)
	if !(lo >= 0 && hi > lo) {
		return 0, fmt.Errorf("panel: %q: quiescent currents from %g to %g A, want 0 <= lo < hi", l.material, lo, hi)
	}
	peak = maximum(reference)
	for i := range scanRungs {
		// Squared spacing: the residual moves fastest near no current.
		f := float64(i) / (scanRungs - 1)
		current := lo + (hi-lo)*f*f
		audio, rung, err := l.render(current, len(reference), len(reference[0]))
		if err != nil {
			return 0, err
		}
		clip, err := l.spool.put(audio)
		if err != nil {
			return 0, err
		}
		peak = max(peak, maximum(audio))
		l.rungs = append(l.rungs, asked{current, rung, clip})
	}
	minimum := 0
	for i, r := range l.rungs {
		if r.Residual < l.rungs[minimum].Residual {
			minimum = i
		}
	}
	l.rungs = l.rungs[:minimum+1]
	if first, last := l.limits(); last-first < minimumRange {
		return 0, fmt.Errorf("panel: %q: residuals from %.1f to %.1f dB; a test needs %g dB between its ends", l.material, first, last, minimumRange)
	}
	return peak, nil
}

func maximum(audio [][]float64) float64 {
	peak := 0.0
	for _, channel := range audio {
		for _, x := range channel {
			peak = max(peak, math.Abs(x))
		}
	}
	return peak
}

// render renders one rung, checks its size against the reference's and records it.
func (l *ladder) render(quiescent float64, channels, frames int) ([][]float64, Rung, error) {
	audio, rung, err := l.clips.Rendering(l.material, quiescent)
	if err != nil {
		return nil, Rung{}, fmt.Errorf("panel: %q at %g A: %w", l.material, quiescent, err)
	}
	if len(audio) != channels || slices.ContainsFunc(audio, func(c []float64) bool { return len(c) != frames }) {
		return nil, Rung{}, fmt.Errorf("panel: %q at %g A: not of the reference's size", l.material, quiescent)
	}
	if err := rung.check(); err != nil {
		return nil, Rung{}, fmt.Errorf("panel: %q at %g A: %w", l.material, quiescent, err)
	}
	rung.Residual = max(rung.Residual, -300) // no difference at all
	rung.Quiet = quietPlayback(l.ref, audio, l.rate)
	return audio, rung, l.record(l.material, l.stimulus, rung)
}

// check refuses conditions that are no numbers. A residual of -Inf is legal: no
// difference at all.
func (r Rung) check() error {
	for name, x := range map[string]float64{"quiescent current": r.Quiescent, "bias": r.Bias, "gain": float64(r.Gain), "residual": max(float64(r.Residual), -300)} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%s of %g", name, x)
		}
	}
	return nil
}

// limits returns the minimum and the maximum residual in decibels; the caller
// holds the lock.
func (l *ladder) limits() (minimum, most float64) {
	most = float64(l.rungs[0].Residual)
	minimum = float64(l.rungs[len(l.rungs)-1].Residual)
	return max(minimum, most-mostRange), most
}

// ends are the limits for the tracks of a session, which do not move while the
// ladder fills.
func (l *ladder) ends() (minimum, most float64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.limits()
}

// at returns the rung whose residual lies within the tolerance of level, or the
// nearest found, and its sound. A level outside the limits gives the end.
func (l *ladder) at(level float64) (Rung, *stored, error) {
	for range solveLimit {
		current, ok := l.toward(level)
		if !ok {
			break
		}
		if _, _, err := l.current(current); err != nil {
			return Rung{}, nil, err
		}
	}
	l.mu.Lock()
	best := l.nearest(level)
	l.mu.Unlock()
	return l.current(best.current)
}

// toward returns the current to render next on the way to a level, and false
// when the nearest rung is near enough or cannot be bettered.
func (l *ladder) toward(level float64) (quiescent float64, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if math.Abs(float64(l.nearest(level).Residual)-level) <= levelTolerance {
		return 0, false
	}
	return l.guess(level)
}

// current returns the rung at a quiescent current and its clip; one that was rendered
// before does not wait for a rendering of another.
func (l *ladder) current(quiescent float64) (Rung, *stored, error) {
	if r, s := l.known(quiescent); s != nil {
		return r, s, nil
	}
	l.rendering.Lock()
	defer l.rendering.Unlock()
	if r, s := l.known(quiescent); s != nil { // another wanted it too
		return r, s, nil
	}
	audio, rung, err := l.render(quiescent, len(l.ref.samples), l.ref.frames())
	if err != nil {
		return Rung{}, nil, err
	}
	clip, err := l.spool.put(audio)
	if err != nil {
		return Rung{}, nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	at, _ := l.find(quiescent)
	l.rungs = slices.Insert(l.rungs, at, asked{quiescent, rung, clip})
	return rung, clip, nil
}

func (l *ladder) known(quiescent float64) (Rung, *stored) {
	l.mu.Lock()
	defer l.mu.Unlock()
	at, found := l.find(quiescent)
	if !found {
		return Rung{}, nil
	}
	return l.rungs[at].Rung, l.rungs[at].clip
}

func (l *ladder) find(quiescent float64) (at int, found bool) {
	return slices.BinarySearchFunc(l.rungs, quiescent, func(r asked, q float64) int { return cmp.Compare(r.current, q) })
}

func (l *ladder) nearest(level float64) asked {
	return slices.MinFunc(l.rungs, func(a, b asked) int {
		return cmp.Compare(math.Abs(float64(a.Residual)-level), math.Abs(float64(b.Residual)-level))
	})
}

// guess interpolates the current for a level between the two rungs that
// enclose it; false when none do, or when they have closed in on each other.
func (l *ladder) guess(level float64) (quiescent float64, ok bool) {
	for i := range len(l.rungs) - 1 {
		a, b := l.rungs[i], l.rungs[i+1]
		above, below := float64(a.Residual), float64(b.Residual)
		if level > above || level < below || above-below < 1e-9 {
			continue
		}
		share := (above - level) / (above - below)
		// Stay away from the ends, so that a strongly bent law still halves.
		share = min(max(share, 0.1), 0.9)
		q := a.current + share*(b.current-a.current)
		return q, q > a.current && q < b.current
	}
	return 0, false
}
