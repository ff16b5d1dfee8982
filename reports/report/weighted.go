package report

import (
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/dsp/weighting"
)

// Weighted is the residual re the programme, both seen through a weighting, RMS
// from the averaged spectra of the measured channel, 20 Hz to 20 kHz.
type Weighted struct {
	// Flat is without weighting.
	Flat level.DB `json:"flat_db"`
	// A is through the A weighting of IEC 61672-1.
	A level.DB `json:"a_db"`
	// Noise468 is through the noise network of ITU-R BS.468-4, without its
	// quasi-peak detector.
	Noise468 level.DB `json:"noise_468_db"`
}

// powers are mean squares of one averaged spectrum: flat, A, 468.
type powers [3]float64

// powers weighs what was gathered; zeros for a stream shorter than one segment.
func (t *thirds) powers() (p powers) {
	s, ok := t.average.Spectrum()
	if !ok {
		return p
	}
	flat := func(float64) float64 { return 1 }
	for i, response := range []func(hertz float64) float64{flat, weighting.ResponseA, weighting.Response468} {
		p[i] = s.WeightedMeanSquare(lowest, upperEdge(s), response)
	}
	return p
}

func upperEdge(s *spectrum.Spectrum) float64 { return min(highest, s.Rate/2) }

// weigh returns residual over programme, raised by gain; nil where the programme
// is silent.
func weigh(residual, programme powers, gain level.DB) *Weighted {
	var ratio [3]level.DB
	for i := range ratio {
		if !(programme[i] > 0) {
			return nil
		}
		ratio[i] = level.FromPower(residual[i]/programme[i]) + gain
	}
	return &Weighted{ratio[0], ratio[1], ratio[2]}
}
