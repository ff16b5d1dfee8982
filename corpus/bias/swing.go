package bias

import (
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/shape"
)

// Swing is what the midband law is over a swing of the input to both sides.
type Swing struct {
	// Incremental gains, V/V: at rest, at the two peaks, and the one of minimum size
	// between them.
	GainAtZero  float64 `json:"gain_at_zero"`
	GainAtHigh  float64 `json:"gain_at_high"`
	GainAtLow   float64 `json:"gain_at_low"`
	MinimumGain float64 `json:"minimum_gain"`

	// Gm is the metric of Geddes and Lee of the law over this swing, scaled to
	// unit input and unit gain; GmRefusal says why there is none. It diverges for
	// an ideal dead band.
	Gm        *float64 `json:"gm,omitempty"`
	GmRefusal string   `json:"gm_refusal,omitempty"`
}

// swingSteps is how many gains are looked at for the minimum, closer together
// about 0, where the crossover is; gmPoints is the sampling of Gm.
const (
	swingSteps = 512
	gmPoints   = 1<<14 + 1
)

// LawSwing describes a law over inputs from -peak to peak, V.
func LawSwing(law *shape.Law, peak float64) Swing {
	s := Swing{GainAtZero: law.Slope(0), GainAtHigh: law.Slope(peak), GainAtLow: law.Slope(-peak)}
	s.MinimumGain = s.GainAtZero
	for i := range swingSteps + 1 {
		u := -1 + 2*float64(i)/swingSteps
		if g := law.Slope(peak * u * u * u); math.Abs(g) < math.Abs(s.MinimumGain) {
			s.MinimumGain = g
		}
	}
	if gm, err := smoothMetric(law, peak); err != nil {
		s.GmRefusal = err.Error()
	} else {
		s.Gm = &gm
	}
	return s
}

// smoothMetric returns Gm over a swing, in units of that swing and of the law's
// mean gain over it.
func smoothMetric(law *shape.Law, peak float64) (float64, error) {
	gain := (law.At(peak) - law.At(-peak)) / (2 * peak)
	y := make([]float64, gmPoints)
	for i := range y {
		x := -1 + 2*float64(i)/(gmPoints-1)
		y[i] = law.At(peak*x) / (gain * peak)
	}
	return distortion.GmSampled(y)
}
