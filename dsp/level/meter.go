package level

// Meter measures programme loudness and true peak by ITU-R BS.1770-5 from a
// stream of blocks. It is not safe for concurrent use.
type Meter struct {
	*Loudness
	peaks []*truePeak
}

// NewMeter returns a meter for a sample rate and a channel count that
// [NewLoudness] allows. It panics outside these.
func NewMeter(rate float64, channels int) *Meter {
	m := &Meter{Loudness: NewLoudness(rate, channels)}
	for range channels {
		m.peaks = append(m.peaks, newTruePeak())
	}
	return m
}

// Add measures block[channel][frame], of any equal lengths. It panics if the
// channels are not those of the meter or differ in length.
func (m *Meter) Add(block [][]float64) {
	m.Loudness.Add(block)
	for c, x := range block {
		m.peaks[c].add(x)
	}
}

// TruePeak returns the maximum true peak of all channels in dB re full scale
// (dBTP), -Inf before any signal: the waveform between the samples is read from
// a fourfold interpolation (BS.1770-5 Annex 2), refined by a parabola through
// its highest points.
func (m *Meter) TruePeak() DB {
	peak := 0.0
	for _, p := range m.peaks {
		peak = max(peak, p.value())
	}
	return FromAmplitude(peak)
}
