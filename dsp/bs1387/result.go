package bs1387

import (
	"math"

	"quietcross/dsp/level"
)

// Result holds the model output variables of a comparison. Variables other than
// the two of detection are means over the channels. A variable that no frame has
// contributed to is 0; Frames tells.
type Result struct {
	// PlaybackSPL is the level of a full-scale sine that the prediction holds
	// for, in dB SPL.
	PlaybackSPL level.DB `json:"playback_spl_db"`
	// Frames is the number of frames of 2048 samples that were compared.
	Frames int `json:"frames"`

	// Detection is MFPDB, the maximum filtered probability of detection, 0 to
	// 1. Above one half the difference is predicted to be heard. The filter takes
	// seven frames, 0.15 s, of certain differences to pass one half.
	Detection float64 `json:"detection"`
	// DistortedBlock is ADBB, the logarithm of the mean number of steps above
	// threshold in the frames whose difference is heard.
	DistortedBlock float64 `json:"distorted_block"`
	// TotalNoiseToMask is Total NMRB and SegmentalNoiseToMask Segmental NMRB.
	TotalNoiseToMask     level.DB `json:"total_noise_to_mask_db"`
	SegmentalNoiseToMask level.DB `json:"segmental_noise_to_mask_db"`
	// DisturbedFrames is RelDistFramesB, the part of the frames in which a band
	// has noise more than 1.5 dB above the mask, 0 to 1.
	DisturbedFrames float64 `json:"disturbed_frames"`
	// NoiseLoudness is RmsNoiseLoudB, the partly masked loudness of the error.
	NoiseLoudness float64 `json:"noise_loudness_sone"`
	// WindowedModulation is WinModDiff1B, Modulation1 AvgModDiff1B and
	// Modulation2 AvgModDiff2B: changes of the envelope, in percent.
	WindowedModulation float64 `json:"windowed_modulation_percent"`
	Modulation1        float64 `json:"modulation_1_percent"`
	Modulation2        float64 `json:"modulation_2_percent"`
	// HarmonicStructure is EHSB, a thousand times the strength of the error's
	// regular pattern along frequency.
	HarmonicStructure float64 `json:"harmonic_structure"`
	// ReferenceBandwidth and TestBandwidth are BandwidthRefB and
	// BandwidthTestB, in lines of 23.4375 Hz.
	ReferenceBandwidth float64 `json:"reference_bandwidth_lines"`
	TestBandwidth      float64 `json:"test_bandwidth_lines"`

	// Series is the course over time.
	Series Series `json:"series"`
}

// FirstHeard returns the time in seconds at which the filtered probability first
// exceeds limit, and false if it never does. The resolution is [Series.Hop].
func (r *Result) FirstHeard(limit float64) (seconds float64, ok bool) {
	for _, m := range r.Series.Moments {
		if m.Filtered > limit {
			return m.Time, true
		}
	}
	return 0, false
}

// Duration is the time that was compared, in seconds: up to one hop less than
// the signals'.
func (r *Result) Duration() float64 {
	if r.Frames == 0 {
		return 0
	}
	return hopTime * float64(r.Frames+1)
}

// add puts the averages of one of n channels into the result.
func (r *Result) add(t *tally, n int) {
	part := 1 / float64(n)
	r.TotalNoiseToMask += level.DB(part) * ratioLevel(&t.noiseToMask)
	r.SegmentalNoiseToMask += level.DB(part * t.segmental.value())
	r.DisturbedFrames += part * t.disturbed.value()
	r.NoiseLoudness += part * math.Sqrt(t.noiseLoudness.value())
	r.WindowedModulation += part * t.windowed.value()
	r.Modulation1 += part * t.modulation1.value()
	r.Modulation2 += part * t.modulation2.value()
	r.HarmonicStructure += part * 1000 * t.harmonics.value()
	r.ReferenceBandwidth += part * t.bandwidthRef.value()
	r.TestBandwidth += part * t.bandwidthTest.value()
}

// ratioLevel returns the mean of a ratio of energies in dB, 0 for an empty mean.
func ratioLevel(m *mean) level.DB {
	if m.weight == 0 {
		return 0
	}
	return level.FromPower(m.value())
}
