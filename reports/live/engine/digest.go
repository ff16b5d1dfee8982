package engine

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
)

// A Digest is what matching needs of a source that is known as a whole: so much of it,
// spread evenly over its length, and so thinned, that its loudness through a law is found
// as soon as a slider rests. A law has no memory, so that its output at every third sample
// is every third sample of its output; thinned sound has aliases, which carry its power on.
// The pieces that are kept are a few gating blocks long (ITU-R BS.1770-5) and fade at
// their ends, since they are joined to each other.
type Digest struct {
	rate  float64
	thin  int         // frames of the source to one that is kept
	audio [][]float64 // re full scale
	meter *level.Loudness
}

const (
	digestSeconds = 60.0
	digestRate    = 16000 // at least, Hz
	digestPiece   = 1.2   // s
	digestFade    = 0.01  // s
)

// NewDigest makes a digest of planar audio at rate Hz.
func NewDigest(audio [][]float32, rate int) *Digest {
	thinned := max(1, rate/digestRate)
	d := &Digest{rate: float64(rate) / float64(thinned), thin: thinned}
	frames := len(audio[0]) / thinned
	piece := int(digestPiece * d.rate)
	pieces := max(1, int(digestSeconds/digestPiece))
	if frames <= pieces*piece {
		pieces, piece = 1, frames
	}
	for _, x := range audio {
		kept := make([]float64, 0, pieces*piece)
		for k := range pieces {
			from := 0
			if pieces > 1 {
				from = k * (frames - piece) / (pieces - 1)
			}
			for i := range piece {
				kept = append(kept, float64(x[(from+i)*thinned])*d.edge(i, piece, pieces))
			}
		}
		d.audio = append(d.audio, kept)
	}
	d.meter = level.NewLoudness(d.rate, len(audio))
	d.meter.Add(d.audio)
	return d
}

// edge is the gain of a frame of a piece, 1 where there is but one piece.
func (d *Digest) edge(i, piece, pieces int) float64 {
	if pieces == 1 {
		return 1
	}
	return min(1, float64(min(i, piece-1-i))/(digestFade*d.rate))
}

// Match returns the gain, with its polarity, that makes the source as loud behind a law as
// before it, at a drive in volts peak and with the level and the turning up of the
// controls. Where either is too soft to say, it is that of the law over a middling swing.
func (d *Digest) Match(law *shape.Law, drive float64, c Controls) float64 {
	at := reached(law, drive, c.Level)
	swing := drive * at
	gain := slopeGain(law, swing/4)
	up := level.DB(0)
	if c.TurnUp {
		up = -c.Level
	}
	wanted, ok := d.meter.IntegratedAt(level.FromAmplitude(at) + up)
	if !ok {
		return gain
	}
	scale := up.Amplitude() / drive
	behind, peak := d.through(law, swing, scale, nil)
	size, ok := lifted(behind, level.FromAmplitude(math.Abs(gain)), wanted)
	if !ok {
		return gain
	}
	// Where the limiter works, a gain is not what it makes louder.
	plain := size
	for range limitedTrials {
		if peak*size.Amplitude() <= 1 {
			break
		}
		behind, _ = d.through(law, swing, scale*size.Amplitude(), newLimiter(len(d.audio), look/d.thin))
		found, _ := behind.Integrated()
		size = min(size+wanted-found, plain+limitedRoom, maximumMatch)
	}
	return math.Copysign(size.Amplitude(), gain)
}

// How often a gain is corrected for what the limiter takes, and by how much at most.
const (
	limitedTrials          = 3
	limitedRoom   level.DB = 3
)

// lifted returns the gain that brings what was measured to a loudness, beginning with some
// gain: it lifts soft blocks over the gate, so that it is approached. It reports false
// where there is too little to measure.
func lifted(m *level.Loudness, gain, wanted level.DB) (level.DB, bool) {
	for range matchTrials {
		found, ok := m.IntegratedAt(gain)
		if !ok || gain+wanted-found > maximumMatch {
			return 0, false
		}
		gain += wanted - found
		if math.Abs(float64(wanted-found)) <= float64(matchedWithin) {
			break
		}
	}
	return gain, true
}

// through measures the loudness behind a law, full scale being volts at its input and scale
// its output's share of full scale a volt, and the peak; both behind the limiter, if there
// is one.
func (d *Digest) through(law *shape.Law, volts, scale float64, limit *limiter) (meter *level.Loudness, peak float64) {
	meter = level.NewLoudness(d.rate, len(d.audio))
	rest := law.At(0)
	block := make([][]float64, len(d.audio))
	for c := range block {
		block[c] = make([]float64, MaximumBlock)
	}
	for from := 0; from < len(d.audio[0]); from += MaximumBlock {
		n := min(MaximumBlock, len(d.audio[0])-from)
		for c, x := range d.audio {
			for i, v := range x[from : from+n] {
				block[c][i] = (law.At(v*volts) - rest) * scale
			}
			peak = max(peak, level.Peak(block[c][:n]))
		}
		if limit != nil {
			limit.process(cut(block, n))
		}
		meter.Add(cut(block, n))
	}
	return meter, peak
}

// slopeGain returns the gain that a law needs to have unity over a swing in volts, bounded
// as any matching is.
func slopeGain(law *shape.Law, swing float64) float64 {
	gain, limit := 2*swing/(law.At(swing)-law.At(-swing)), maximumMatch.Amplitude()
	if !(math.Abs(gain) <= limit) {
		return math.Copysign(limit, gain)
	}
	return gain
}

// reached returns the amplitude re the drive to which a level is taken: above the drive it
// goes as far as the law does.
func reached(law *shape.Law, drive float64, l level.DB) float64 {
	at := l.Amplitude()
	if lo, hi := law.Range(); lo < hi && at > 1 {
		return max(1, min(at, hi/(lawHeadroom*drive)))
	}
	return at
}
