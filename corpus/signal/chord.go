package signal

import "math"

// chordVoice is one note of a soft ensemble, held by two players.
type chordVoice struct {
	hz     float64
	enters float64 // seconds
	level  float64 // dB
	pan    float64 // −1 left to 1 right
}

var chordVoices = []chordVoice{
	{146.83, 0.50, -1, -0.25},
	{220.00, 0.83, -2, 0.35},
	{329.63, 1.21, -5, -0.55},
	{369.99, 1.66, -4, 0.6},
	{554.37, 2.37, -10, -0.1},
}

// chordSwell is what the conductor asks of all, in dB: in, out, and off.
var chordSwell = curve{{0.5, -10}, {3.6, 0}, {4.8, -2}, {8.6, -25}}

// chordEnd is when the last player stops, and the room answers alone.
const chordEnd = 8.6

// hall is the room around the chord. Its decay is the one stated for the piece.
var hall = room{decay: 2.4, high: 0.9, predelay: 0.019, wet: 0.3}

// playChord performs the swell in stereo. Each ear hears its own reflections.
func playChord(n int, seed uint64) [][]float64 {
	x := [][]float64{make([]float64, n), make([]float64, n)}
	hand, bow := played("chord"), throw(seed, "chord bow")
	gesture := conduct(min(n, frame(chordEnd)))
	for _, v := range chordVoices {
		for desk := range 2 {
			part := v.play(gesture, hand, bow)
			left, right := balance(v.pan + 0.15*(float64(desk)-0.5))
			for i, s := range part {
				x[0][i] += left * s
				x[1][i] += right * s
			}
		}
	}
	for c, ear := range []string{"chord left", "chord right"} {
		x[c] = hall.reverberate(x[c], played(ear))
	}
	return x
}

// gesture is what the conductor asks for at one moment, as amplitudes.
type gesture struct {
	loud float64 // of the tone
	roll float64 // of each partial re the one below it: softer is darker
	bow  float64 // of the rosin's noise, which falls more slowly
}

// conduct returns the swell, frame by frame.
func conduct(n int) []gesture {
	swell := make([]gesture, n)
	for i := range swell {
		level := chordSwell.value(seconds(i))
		swell[i] = gesture{decibels(level), 0.3 * decibels(0.22*level), 0.012 * decibels(0.7*level)}
	}
	return swell
}

// play returns one player's part until all stop: a mellow tone, never quite
// steady in pitch or pressure, with a breath of rosin noise.
func (v chordVoice) play(swell []gesture, hand, bow dice) []float64 {
	const partials = 8
	x := make([]float64, len(swell))
	pitch, press := hand.wander(len(x), 3), hand.wander(len(x), 2)
	cents, enters := hand.around(0, 3), v.enters+hand.around(0, 0.05)
	rosin := bandPass(2*v.hz+900, 1.2)
	phase, level := hand.Float64(), decibels(v.level)
	for i, now := range swell {
		phase += v.hz * (1 + (cents+2.2*pitch[i])*math.Ln2/1200) / scoreRate
		sin, cos := math.Sincos(2 * math.Pi * phase)
		noise := now.bow * rosin.step(bow.NormFloat64()) * (1 + 0.5*sin)
		tone := now.loud * decibels(0.8*press[i]) * partialSum(sin, cos, now.roll, partials)
		x[i] = level * (tone + noise)
	}
	bowed(x, enters)
	return x
}

// partialSum returns Σ roll^(k−1)·sin(kθ) for k = 1 to n, from θ's sine and
// cosine by sin((k+1)θ) = 2·cos θ·sin(kθ) − sin((k−1)θ).
func partialSum(sin, cos, roll float64, n int) float64 {
	before, now, sum, weight := 0.0, sin, 0.0, 1.0
	for range n {
		sum += weight * now
		weight *= roll
		before, now = now, 2*cos*now-before
	}
	return sum
}

// bowed silences the part before it enters and lifts the bow at the end.
func bowed(x []float64, enters float64) {
	for i := range x {
		t := seconds(i)
		x[i] *= raisedCosine((t-enters)/1.1) * raisedCosine((chordEnd-t)/0.12)
	}
}

// balance returns the gains of left and right for a pan of −1 to 1, of constant
// power and never all on one side.
func balance(pan float64) (left, right float64) {
	right, left = math.Sincos(math.Pi / 4 * (1 + 0.8*pan))
	return left, right
}
