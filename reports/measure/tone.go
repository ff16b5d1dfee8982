package measure

import (
	"errors"
	"math"
	"strconv"

	"quietcross/dsp/distortion"
	"quietcross/dsp/weighting"
)

// tone adds the figures of one tone.
func (c *Channel) tone(x []float64, rate float64, tones []float64, o Options) error {
	t, err := fitTone(x, rate, tones)
	if err != nil {
		return err
	}
	c.Warnings = append(c.Warnings, t.Warnings...)
	f := t.Fundamental
	c.Tones = []Line{{Name: "1", Order: 1, Frequency: f.Frequency, Amplitude: f.Amplitude(), Ratio: 1, Sigma: f.Sigma, Resolved: true}}
	for _, h := range t.Harmonics {
		phase := h.Phase()
		c.Lines = append(c.Lines, Line{
			Name: strconv.Itoa(h.Order), Order: h.Order, Frequency: h.Frequency, Amplitude: h.Amplitude(),
			Ratio: h.Amplitude() / f.Amplitude(), Sigma: h.Sigma, Phase: &phase, Resolved: h.Resolved(),
		})
	}
	c.add(
		Figure{Key: "frequency", Title: "fundamental frequency", Value: t.Frequency, Sigma: t.FrequencySigma, Unit: Hertz, Definition: "weighted least squares with harmonics to order 20"},
		Figure{Key: "fundamental", Title: "fundamental level", Value: f.Amplitude(), Sigma: f.Sigma, Unit: FullScale, Definition: "peak amplitude of the fitted fundamental re full scale"},
		Figure{Key: "tone_dc", Title: "DC beside the tone", Value: t.DC, Sigma: t.DCSigma, Unit: FullScale, Definition: "constant fitted together with the tone"},
		ratio("thd_f", "THD re fundamental", "IEC 60268-3, 14.12: root sum of squares of harmonics 2 to 20 re the fundamental", t.THDF()),
		ratio("thd_r", "THD re total", "IEC 60268-3, 14.12: the same re fundamental and harmonics", t.THDR()),
		ratio("order_weighted", "order-weighted distortion", "Shorter 1950: harmonics weighted by n²/4, root sum of squares re the fundamental", t.OrderWeighted()),
	)
	c.toneNoise(x, t, o)
	return nil
}

func fitTone(x []float64, rate float64, tones []float64) (*distortion.Tone, error) {
	if len(tones) == 1 {
		if t, err := distortion.HarmonicsNear(x, rate, tones[0]); err == nil {
			return t, nil
		}
	}
	return distortion.Harmonics(x, rate)
}

// toneNoise adds the figures that take noise in.
func (c *Channel) toneNoise(x []float64, t *distortion.Tone, o Options) {
	n := t.THDN()
	c.add(ratio("thd_n", "THD+N", "AES17-2015, 6.3: 20 Hz to 20 kHz re the total in that band; fundamental taken out by fit", n))
	if n.Value > 0 {
		c.add(Figure{
			Key: "sinad", Title: "SINAD", Value: 1 / n.Value, Sigma: n.Sigma / (n.Value * n.Value), Unit: Ratio,
			Definition: "signal, noise and distortion re noise and distortion: the reciprocal of THD+N",
		})
	}
	q := o.notchQ()
	notch, err := distortion.NotchTHDN(x, t.Rate, t.Frequency, q)
	if err != nil {
		c.warn("no THD+N by notch: %v", err)
	} else {
		notch.Sigma = n.Sigma
		c.add(ratio("thd_n_notch", "THD+N by notch", "AES17-2015, 6.3: the same through the standard notch of Q "+strconv.FormatFloat(q, 'g', 3, 64), notch))
	}
	c.noise(t, float64(len(x))/t.Rate)
	weighted := ratio("thd_468", "weighted THD", "IEC 60268-3, 14.12: harmonics through the ITU-R BS.468-4 network re the fundamental", t.WeightedTHD())
	c.add(weighted)
	if t.Frequency < 31 || t.Frequency > 404 {
		c.warn("weighted THD is defined for fundamentals of 31.5 to 400 Hz; at %.4g Hz the weighting also raises the low orders", t.Frequency)
	}
}

// noise adds the noise beside a tone.
func (c *Channel) noise(t *distortion.Tone, seconds float64) {
	add := func(key, title, definition string, value, bandwidth float64) {
		// Power over bandwidth B and time T has 2BT independent values.
		sigma := value / math.Sqrt(4*bandwidth*seconds)
		c.add(Figure{Key: key, Title: title, Value: value, Sigma: sigma, Unit: FullScale, Definition: definition})
	}
	add("noise", "noise", "RMS, 20 Hz to 20 kHz, of what is no harmonic", t.Noise(), 20000)
	add("noise_a", "A-weighted noise", "the same with the A weighting of IEC 61672-1", t.NoiseA(), 8000)
	if t.Rate < weighting.MinRate || seconds < 1 {
		c.warn("no quasi-peak noise: the detector needs a second to settle")
		return
	}
	c.add(Figure{
		Key: "noise_468", Title: "468-weighted noise, quasi-peak", Value: t.Noise468(), Unit: FullScale,
		Definition: "ITU-R BS.468-4: highest reading of what is no harmonic, as the RMS of a 1 kHz sine",
	})
	if seconds < 3 {
		c.warn("quasi-peak noise from %.2g s reads low: the detector takes some 3 s to settle", seconds)
	}
}

// ladder measures each step of a ladder of levels as a tone.
func (c *Channel) ladder(x []float64, rate float64, tones []float64, o Options) error {
	for _, s := range distortion.Steps(x, rate) {
		step := Channel{Index: c.Index, Kind: distortion.SingleTone.String(), Told: c.Told, From: c.From + s.From, To: c.From + s.To}
		if err := step.tone(x[s.From:s.To], rate, tones, o); err != nil {
			step.warn("no figures: %v", err)
		}
		c.Steps = append(c.Steps, step)
	}
	if len(c.Steps) == 0 {
		return errors.New("measure: no stretch of steady level was found")
	}
	return nil
}
