package bias

// Tone returns what the stage makes of a steady tone of hertz and of peak volts at
// its input: of a circuit without memory from its law, of another from its periodic
// state.
func (e *Evaluation) Tone(hertz, peak float64) (Tone, error) {
	tones, err := e.Tones([]float64{hertz}, peak)
	if err != nil {
		return Tone{}, err
	}
	return tones[0], nil
}

// Tones returns what the stage makes of tones of one peak at several frequencies.
func (e *Evaluation) Tones(hertz []float64, peak float64) ([]Tone, error) {
	tones := make([]Tone, len(hertz))
	if e.ladder.stage.HasMemory() {
		for i, f := range hertz {
			var err error
			if tones[i], err = e.steadyTone(f, peak); err != nil {
				return nil, err
			}
		}
		return tones, nil
	}
	law, err := e.figures(peak)
	if err != nil {
		return nil, err
	}
	lines := lawLines(law, peak)
	for i, f := range hertz {
		tones[i] = newTone(f, peak, lines)
	}
	return tones, nil
}

// TwoTone returns the intermodulation of two tones whose peaks add up to peak volts.
func (e *Evaluation) TwoTone(peak float64) (TwoTone, error) {
	if e.ladder.stage.HasMemory() {
		return e.steadyTwoTone(peak)
	}
	law, err := e.figures(peak)
	if err != nil {
		return TwoTone{}, err
	}
	return lawTwoTone(law, peak), nil
}

// Swing describes the midband law over inputs of peak volts to either side.
func (e *Evaluation) Swing(peak float64) (Swing, error) {
	law, err := e.figures(peak)
	if err != nil {
		return Swing{}, err
	}
	return LawSwing(law, peak), nil
}

// Frequencies of the tones that simple figures are of, Hz: 400 is the highest that
// IEC 60268-3 defines the weighted THD for.
const (
	FigureFrequency   = 1000
	WeightedFrequency = 400
)

// Simple are the figures that amplifiers are compared by, of a tone of one peak.
type Simple struct {
	// THD is of a 1 kHz tone, all orders re the fundamental (IEC 60268-3, 14.12).
	THD float64 `json:"thd"`
	// WeightedTHD is of a 400 Hz tone, the harmonics to order 20 through the network
	// of ITU-R BS.468-4.
	WeightedTHD float64 `json:"weighted_thd"`
	// OrderWeighted is of the 1 kHz tone's orders to 20, each weighted by n²/4
	// (Shorter 1950).
	OrderWeighted float64 `json:"order_weighted"`
	// Gm is the metric of Geddes and Lee of the midband law; nil where there is none,
	// and GmRefusal says why. It diverges for an ideal dead band.
	Gm        *float64 `json:"gm,omitempty"`
	GmRefusal string   `json:"gm_refusal,omitempty"`
}

// Simple returns the simple figures of tones of peak volts at the input.
func (e *Evaluation) Simple(peak float64) (Simple, error) {
	tone, err := e.Tone(FigureFrequency, peak)
	if err != nil {
		return Simple{}, err
	}
	weighted, err := e.Tone(WeightedFrequency, peak)
	if err != nil {
		return Simple{}, err
	}
	swing, err := e.Swing(peak)
	return Simple{
		THD: tone.THD, WeightedTHD: weighted.WeightedTHD(), OrderWeighted: tone.OrderWeighted,
		Gm: swing.Gm, GmRefusal: swing.GmRefusal,
	}, err
}
