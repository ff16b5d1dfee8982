package stage

import (
	"math"
	"slices"

	"quietcross/dsp/elementary"
)

// clippingSteps is how many inputs a side the search for the clipping onset
// looks at before it closes in.
const clippingSteps = 150

// Clip returns the clipping onset of each side, as input volts lo < 0 < hi. It is
// the input, going outward, at which the incremental gain has fallen to half of
// the maximum gain of that side: by then the output lags a straight line by
// the part of the swing that the last device needed to leave its active region.
// A side whose gain never reaches half of the other's does not conduct (a
// single device under class A) and takes the other's onset with its sign turned.
// A stage that does not clip within its circuit's span has the span here.
func (b *Biased) Clip() (lo, hi float64) { return b.clipping[0], b.clipping[1] }

// Clips reports whether a drive of peak volts at the input goes beyond this setting's own
// clipping onset on either side: what it then distorts is not the crossover alone.
func (b *Biased) Clips(peak float64) bool { return peak > min(-b.clipping[0], b.clipping[1]) }

// Drive returns the default drive of a setting, in volts peak: 1 dB under the
// nearer clipping onset.
func (b *Biased) Drive() float64 {
	return elementary.Pow10(-1.0/20) * min(-b.clipping[0], b.clipping[1])
}

// Drive returns the stage's default drive, in volts peak at its input: that of
// the stage as built, so that it is the same for every bias of a ladder.
func (s *Stage) Drive() (float64, error) {
	b, err := s.Set(AsBuilt())
	if err != nil {
		return 0, err
	}
	return b.Drive(), nil
}

// findClipping surveys the gain outward on both sides.
func (b *Biased) findClipping() error {
	span, err := b.span()
	if err != nil {
		return err
	}
	var onset, top [2]float64
	for side, direction := range []float64{-1, 1} {
		if onset[side], top[side], err = b.onset(direction * span); err != nil {
			return err
		}
	}
	for side := range onset {
		if top[side] < top[1-side]/2 {
			onset[side] = -onset[1-side]
		}
	}
	b.clipping = onset
	_, _, err = b.Transfer(0)
	return err
}

// The rough search for where a stage with a driver clips: inputs a ratio apart, from
// its span inward.
const (
	roughRatio = 1.15
	roughSteps = 100
	roughRoom  = 1.6 // times the outermost input that still has gain
)

// span returns the input beyond which the survey need not look. That of a stage with
// a driver, whose gain differs widely from stage to stage, is found from the outermost
// input at which the gain is at least half of the maximum.
func (b *Biased) span() (float64, error) {
	far := b.stage.kind.Span(&b.stage.spec.Parts)
	if !b.stage.HasDriver() {
		return far, nil
	}
	var gains [roughSteps]float64
	for _, direction := range []float64{-1, 1} {
		for i := range gains {
			g, err := b.gain(direction * far * elementary.Pow(roughRatio, float64(i+1-roughSteps)))
			if err != nil {
				return 0, err
			}
			gains[i] = max(gains[i], g)
		}
	}
	half := slices.Max(gains[:]) / 2
	outermost := roughSteps - 1
	for gains[outermost] < half {
		outermost--
	}
	return min(far, roughRoom*far*elementary.Pow(roughRatio, float64(outermost+1-roughSteps))), nil
}

// onset returns the input of one side where its gain falls to half its maximum,
// and that maximum gain.
func (b *Biased) onset(span float64) (in, top float64, err error) {
	gains := make([]float64, clippingSteps+1)
	best := 0
	for i := range gains {
		if gains[i], err = b.gain(span * float64(i) / clippingSteps); err != nil {
			return 0, 0, err
		}
		if gains[i] > gains[best] {
			best = i
		}
	}
	for i := best + 1; i < len(gains); i++ {
		if gains[i] < gains[best]/2 {
			in, err = b.gainCrossing(gains[best]/2, span*float64(i-1)/clippingSteps, span*float64(i)/clippingSteps)
			return in, gains[best], err
		}
	}
	return span, gains[best], nil
}

// gain returns the size of the incremental gain at an input. With a driver it is 0
// where the sign is not the circuit's: a saturated driver's collector follows its
// base.
func (b *Biased) gain(in float64) (float64, error) {
	_, gain, err := b.Transfer(in)
	switch {
	case b.stage.Inverts():
		return max(0, -gain), err
	case b.stage.HasDriver():
		return max(0, gain), err
	}
	return math.Abs(gain), err
}
