package bs1387

import (
	"math"

	"quietcross/dsp/level"
)

// What a comparison found: the averages over its frames and channels, and the grade that
// the network of the Recommendation makes of eleven of them.

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
	// 1. Above one half it counts as detected. The filter takes
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

// The grade: eleven output variables, scaled, pass a network of three hidden nodes to
// a distortion index, and a sigmoid maps that to the difference grade.

// The neural network of the basic version (BS.1387, clause 6: scaling of the
// model output variables, weights and biases of three hidden nodes). The figures
// agree with independent public transcriptions of the Recommendation's tables; see
// the package's doc comment.
//
// The order of the inputs is BandwidthRefB, BandwidthTestB, Total NMRB,
// WinModDiff1B, ADBB, EHSB, AvgModDiff1B, AvgModDiff2B, RmsNoiseLoudB, MFPDB,
// RelDistFramesB.
var (
	inputMinimum = [11]float64{
		393.916656, 361.965332, -24.045116, 1.110661, -0.206623, 0.074318,
		1.113683, 0.950345, 0.029985, 0.000101, 0,
	}
	inputMaximum = [11]float64{
		921, 881.131226, 16.212030, 107.137772, 2.886017, 13.933351,
		63.257874, 1145.018555, 14.819740, 1, 1,
	}
	inputWeights = [11][3]float64{
		{-0.502657, 0.436333, 1.219602},
		{4.307481, 3.246017, 1.123743},
		{4.984241, -2.211189, -0.192096},
		{0.051056, -1.762424, 4.331315},
		{2.321580, 1.789971, -0.754560},
		{-5.303901, -3.452257, -10.814982},
		{2.730991, -6.111805, 1.519223},
		{0.624950, -1.331523, -5.955151},
		{3.102889, 0.871260, -5.922878},
		{-1.051468, -0.939882, -0.142913},
		{-1.804679, -0.503610, -0.620456},
	}
	hiddenBias    = [3]float64{-2.518254, 0.654841, -2.207228}
	hiddenWeights = [3]float64{-3.817048, 4.107138, 4.629582}
	outputBias    = -0.307594
)

// Ends of the grade's scale: 0 is imperceptible, -4 very annoying (BS.1387,
// clause 6; the five-grade impairment scale of ITU-R BS.1284, as a difference).
const (
	gradeMinimum = -3.98
	gradeMaximum = 0.22
)

// sigmoid is the network's nonlinearity.
func sigmoid(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// DistortionIndex returns the output of the network before its mapping to a
// grade: the greater, the less is heard.
func (r *Result) DistortionIndex() float64 {
	inputs := [11]float64{
		r.ReferenceBandwidth, r.TestBandwidth, float64(r.TotalNoiseToMask), r.WindowedModulation,
		r.DistortedBlock, r.HarmonicStructure, r.Modulation1, r.Modulation2, r.NoiseLoudness,
		r.Detection, r.DisturbedFrames,
	}
	nodes := hiddenBias
	for i, x := range inputs {
		scaled := (x - inputMinimum[i]) / (inputMaximum[i] - inputMinimum[i])
		for j := range nodes {
			nodes[j] += inputWeights[i][j] * scaled
		}
	}
	index := outputBias
	for j, x := range nodes {
		index += hiddenWeights[j] * sigmoid(x)
	}
	return index
}

// Grade returns the objective difference grade, from about 0 (imperceptible) down
// to -3.98 (very annoying): what a panel after ITU-R BS.1116 is predicted to give
// the test signal less the hidden reference. It returns false where the reference
// has no bandwidth, being nowhere over 346 lines, 8.1 kHz, above what the test
// signal holds at the top of the spectrum: the network was made for wide-band
// programme.
func (r *Result) Grade() (float64, bool) {
	if r.ReferenceBandwidth == 0 {
		return 0, false
	}
	return grade(r.DistortionIndex()), true
}

// grade maps a distortion index.
func grade(index float64) float64 {
	return gradeMinimum + (gradeMaximum-gradeMinimum)*sigmoid(index)
}
