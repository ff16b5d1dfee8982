package signal

// phoneme is one sound of the invented speech: where the formants stand, how
// loud voice and breath are, and the hiss that an articulator adds.
type phoneme struct {
	formants [3]float64 // hertz
	voice    float64    // amplitude of the glottal pulses
	breath   float64    // amplitude of the noise at the glottis
	seconds  float64
	hiss     hiss
}

// hiss is the noise of a consonant, made at the teeth or lips.
type hiss struct {
	hz, q, level float64
	from, to     float64 // seconds from the phoneme's start
}

// phonemes holds the sounds. The vowels a, e, i, o, u stand at the averages for
// men of Peterson & Barney, J. Acoust. Soc. Am. 24:175 (1952), Table II, as in
// hod, head, heed, hawed, who'd. The consonants' values are ours.
var phonemes = map[rune]phoneme{
	'a': {formants: [3]float64{730, 1090, 2440}, voice: 1, seconds: 0.15},
	'e': {formants: [3]float64{530, 1840, 2480}, voice: 1, seconds: 0.14},
	'i': {formants: [3]float64{270, 2290, 3010}, voice: 0.9, seconds: 0.13},
	'o': {formants: [3]float64{570, 840, 2410}, voice: 1, seconds: 0.15},
	'u': {formants: [3]float64{300, 870, 2240}, voice: 0.9, seconds: 0.13},
	'm': {formants: [3]float64{260, 1000, 2200}, voice: 0.32, seconds: 0.08},
	'n': {formants: [3]float64{260, 1500, 2500}, voice: 0.32, seconds: 0.075},
	'l': {formants: [3]float64{350, 1150, 2650}, voice: 0.5, seconds: 0.075},
	'w': {formants: [3]float64{310, 720, 2200}, voice: 0.5, seconds: 0.07},
	's': {formants: [3]float64{320, 1700, 2600}, seconds: 0.11, hiss: hiss{6300, 1.3, 0.30, 0, 0.12}},
	'z': {formants: [3]float64{280, 1700, 2600}, voice: 0.25, seconds: 0.08, hiss: hiss{5900, 1.3, 0.14, 0, 0.09}},
	'f': {formants: [3]float64{340, 1100, 2200}, seconds: 0.10, hiss: hiss{3400, 0.4, 0.07, 0, 0.11}},
	'x': {formants: [3]float64{310, 1900, 2500}, seconds: 0.11, hiss: hiss{2900, 1.4, 0.26, 0, 0.12}}, // as in ash
	'h': {breath: 0.5, seconds: 0.07},
	't': {formants: [3]float64{320, 1750, 2600}, seconds: 0.075, hiss: hiss{4300, 0.9, 0.34, 0.052, 0.075}},
	'k': {formants: [3]float64{320, 1900, 2350}, seconds: 0.08, hiss: hiss{1900, 1.8, 0.40, 0.054, 0.08}},
	'p': {formants: [3]float64{320, 800, 2150}, seconds: 0.075, hiss: hiss{900, 0.6, 0.30, 0.056, 0.072}},
	'd': {formants: [3]float64{280, 1750, 2600}, voice: 0.12, seconds: 0.055, hiss: hiss{3800, 0.9, 0.14, 0.042, 0.058}},
	'b': {formants: [3]float64{280, 800, 2150}, voice: 0.12, seconds: 0.055, hiss: hiss{800, 0.6, 0.12, 0.044, 0.058}},
}

// add adds the hiss of a phoneme that begins with x.
func (h hiss) add(x []float64, loud float64, noise dice) {
	if h.level == 0 {
		return
	}
	const edge = 0.004 // of a burst; a long hiss swells over a third
	rise := max(edge, (h.to-h.from)/3)
	shape, floor := bandPass(h.hz, h.q), highPass(0.5*h.hz, 0.7)
	for i := frame(h.from); i < min(len(x), frame(h.to+rise)); i++ {
		t := seconds(i)
		swell := raisedCosine((t-h.from)/rise) * raisedCosine((h.to+rise-t)/rise)
		x[i] += loud * h.level * swell * floor.step(shape.step(noise.NormFloat64()))
	}
}
