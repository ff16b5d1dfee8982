package measure

import (
	"fmt"
	"math"

	"quietcross/dsp/distortion"
)

// twoTones adds the figures of two tones: modulation for a strong low and a weak
// high one, difference frequency for two alike.
func (c *Channel) twoTones(x []float64, rate, low, high float64) error {
	t, err := distortion.Products2(x, rate, low, high)
	if err != nil {
		return err
	}
	c.Warnings = append(c.Warnings, t.Warnings...)
	top := max(t.Low.Amplitude, t.High.Amplitude)
	c.Tones = []Line{productLine("f1", t.Low, top), productLine("f2", t.High, top)}
	modulation := t.Low.Amplitude > 2*t.High.Amplitude
	reference := t.Low.Amplitude + t.High.Amplitude
	if modulation {
		reference = t.High.Amplitude
	}
	for _, p := range t.Products {
		c.Lines = append(c.Lines, productLine(p.Name(), p, reference))
	}
	if modulation {
		c.modulation(t)
		return nil
	}
	c.difference(t)
	return nil
}

func (c *Channel) modulation(t *distortion.TwoTones) {
	const clause = "IEC 60268-3, 14.12: arithmetic sum of the sidebands at f2 ± %s re f2"
	c.try("modulation_2", "modulation distortion, second order", fmt.Sprintf(clause, "f1"))(t.Modulation(2))
	c.try("modulation_3", "modulation distortion, third order", fmt.Sprintf(clause, "2f1"))(t.Modulation(3))
	if r := t.Low.Amplitude / t.High.Amplitude; math.Abs(r-4) > 0.2 {
		c.warn("the tones are %.3g:1, the standard's are 4:1", r)
	}
}

func (c *Channel) difference(t *distortion.TwoTones) {
	c.try("difference_2", "difference-frequency distortion, second order", "IEC 60268-3, 14.12: f2-f1 re the sum of both tones")(t.Difference(2))
	c.try("difference_3", "difference-frequency distortion, third order", "IEC 60268-3, 14.12: 2f2-f1 and 2f1-f2, arithmetic, re the sum of both tones")(t.Difference(3))
	c.try("difference_total", "total difference-frequency distortion", "IEC 60268-3, 14.12: root sum of squares of f2-f1 and 2f1-f2 re the sum of both tones (standard tones 8 and 11.95 kHz)")(t.TotalDifference())
	if r := t.Low.Amplitude / t.High.Amplitude; r > 1.1 || r < 0.9 {
		c.warn("the tones are %.3g:1, the standard's are alike", r)
	}
}

// try returns a function that adds a figure, or a warning when it was not to be
// had.
func (c *Channel) try(key, title, definition string) func(distortion.Figure, error) {
	return func(f distortion.Figure, err error) {
		if err != nil {
			c.warn("no %s: %v", title, err)
			return
		}
		c.add(ratio(key, title, definition, f))
	}
}

func productLine(name string, p distortion.Product, reference float64) Line {
	return Line{
		Name: name, Order: abs(p.N1) + abs(p.N2), Frequency: p.Frequency, Amplitude: p.Amplitude,
		Ratio: p.Amplitude / reference, Sigma: p.Sigma, Resolved: p.Amplitude > clear*p.Sigma,
	}
}

func abs(n int) int { return max(n, -n) }

// squareAndTone adds dynamic intermodulation.
func (c *Channel) squareAndTone(x []float64, rate float64) error {
	d, err := distortion.DynamicIntermodulation(x, rate)
	if err != nil {
		return err
	}
	c.Warnings = append(c.Warnings, d.Warnings...)
	top := max(d.Square.Amplitude, d.Sine.Amplitude)
	c.Tones = []Line{productLine("square", d.Square, top), productLine("sine", d.Sine, top)}
	for _, p := range d.Products {
		c.Lines = append(c.Lines, productLine(p.Name(), p, d.Sine.Amplitude))
	}
	c.add(ratio("dynamic", "dynamic intermodulation distortion",
		"IEC 60268-3, 14.12: root sum of squares of nine products of a 3.15 kHz square re the 15 kHz sine", d.Figure()))
	return nil
}

// multitone adds what lies between many tones.
func (c *Channel) multitone(x []float64, rate float64, tones []float64) error {
	m, err := distortion.MultitoneProducts(x, rate, tones)
	if err != nil {
		return err
	}
	c.Warnings = append(c.Warnings, m.Warnings...)
	top := 0.0
	for _, t := range m.Tones {
		top = max(top, t.Amplitude)
	}
	for i, t := range m.Tones {
		c.Tones = append(c.Tones, productLine(fmt.Sprintf("f%d", i+1), t, top))
	}
	c.add(
		ratio("multitone_rest", "distortion and noise between the tones", "RMS, 20 Hz to 20 kHz, of all that is no tone re the tones", m.Rest),
		ratio("multitone_distortion", "distortion between the tones", "the part of it that stands above the median density of each third octave", m.Distortion),
		ratio("multitone_noise", "noise between the tones", "the part of it that is spread evenly", m.Noise),
	)
	return nil
}
