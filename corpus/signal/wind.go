package signal

import "math"

// The blown phrase: two breaths, slurred notes, the last one dying away.
var (
	// windPitch is in octaves above 440 Hz.
	windPitch = curve{
		{0, step(-2)},
		{1.960, step(-2)},
		{2.005, step(1)},
		{3.180, step(1)},
		{3.222, step(0)},
		{5.300, step(0)},
		{5.301, step(-4)},
		{6.640, step(-4)},
		{6.690, step(-7)},
	}
	// windLevel is the breath in dB.
	windLevel = curve{
		{0.500, -90},
		{0.535, -38},
		{0.640, -19},
		{1.5, -11},
		{1.97, -9},
		{1.99, -11},
		{2.06, -6},
		{2.7, -4},
		{3.19, -7},
		{3.2, -9},
		{3.3, -8},
		{4.2, -15},
		{4.72, -26},
		{4.86, -90},
		{5.40, -90},
		{5.44, -36},
		{5.58, -13},
		{6.2, -7},
		{6.65, -9},
		{6.67, -12},
		{6.76, -9},
		{7.6, -8},
		{8.6, -13},
		{10.4, -30},
		{11.6, -52},
		{11.9, -90},
	}
	// windVibrato is its depth, 1 at its fullest. It comes in late on a note.
	windVibrato = curve{
		{0.9, 0.05},
		{1.8, 0.5},
		{2.0, 0.25},
		{2.6, 0.6},
		{3.2, 0.4},
		{4.4, 0.8},
		{5.4, 0.05},
		{6.4, 0.6},
		{6.7, 0.1},
		{7.7, 0.3},
		{8.6, 1},
		{11, 0.35},
	}
	// windChiff lifts the upper partials while the note is not yet settled.
	windChiff = curve{
		{0.50, 16}, {0.60, 12}, {0.70, 0}, {5.40, 0}, {5.41, 15}, {5.49, 11}, {5.6, 0},
	}
)

// windPartials holds, for each partial, its level re the first at a breath of
// 0 dB, and how many dB more it falls for each dB that the breath falls.
var windPartials = []struct{ level, slope float64 }{
	{0, 0}, {-15, 0.4}, {-21, 0.65}, {-32, 0.85}, {-38, 1.0}, {-48, 1.1},
}

// step returns semitones in octaves.
func step(semitones float64) float64 { return semitones / 12 }

// playWind performs the phrase: partials under vibrato, each with a skirt of
// narrow noise from the unsteady jet, and the broad noise of the breath, which
// arrives a little before the tone.
func playWind(n int, seed uint64) [][]float64 {
	const lead = 0.035 // seconds
	p := newPlayer(n, played("wind"))
	skirts := jet(n, throw(seed, "wind jet"))
	breath := breathNoise(n, throw(seed, "wind breath"))
	x := make([]float64, n)
	var phase float64
	for i := range x {
		t := seconds(i)
		vibrato := p.vibrato(i)
		phase += 440 * math.Exp2(windPitch.value(t)+(11*vibrato+2.5*p.pitch[i])/1200) / scoreRate
		level := windLevel.value(t) + 0.9*vibrato + 0.5*p.breath[i]
		air := windLevel.value(t + lead)
		sin, cos := math.Sincos(2 * math.Pi * phase)
		x[i] = blow(sin, cos, level, windChiff.value(t), skirts[i]) +
			0.011*decibels(0.7*air)*breath[i]*(1+0.35*sin)*open(air)
	}
	hall := room{decay: 1.3, high: 0.6, predelay: 0.012, wet: 0.02}
	return [][]float64{hall.reverberate(x, played("wind room"))}
}

// blow sums the partials at a breath of level dB. sin and cos are the first's.
func blow(sin, cos, level, chiff, skirt float64) float64 {
	first := decibels(level) * open(level)
	before, now, sum := 0.0, sin, 0.0
	for h, p := range windPartials {
		loud := p.level + p.slope*max(level, -40)
		if h > 0 {
			loud = min(loud+chiff, p.level)
		}
		noise := 0.012 * decibels(-5*float64(h)-0.3*level)
		sum += now * (decibels(loud) + noise*skirt)
		before, now = now, 2*cos*now-before
	}
	return first * sum
}

// open is 0 below a level of −70 dB, where no breath is left, and 1 above −60.
func open(level float64) float64 { return raisedCosine((level + 70) / 10) }

// player is the unsteadiness of one who blows.
type player struct {
	pitch, breath, rate, phase []float64
}

func newPlayer(n int, hand dice) *player {
	p := &player{
		pitch:  hand.wander(n, 2.5),
		breath: hand.wander(n, 4),
		rate:   hand.wander(n, 0.6),
		phase:  make([]float64, n),
	}
	var phase float64
	for i := range p.phase {
		phase += (4.7 + 0.22*p.rate[i]) / scoreRate
		p.phase[i] = phase
	}
	return p
}

// vibrato returns the vibrato at frame i, ±1 at its fullest.
func (p *player) vibrato(i int) float64 {
	return windVibrato.value(seconds(i)) * math.Sin(2*math.Pi*p.phase[i])
}

// jet returns narrow-band noise of unit variance that multiplies the partials.
func jet(n int, noise dice) []float64 { return noise.wander(n, 55) }

// breathNoise returns the broad noise at the mouth.
func breathNoise(n int, noise dice) []float64 {
	x := noise.white(n)
	low, lip, top := highPass(420, 0.7), bandPass(1900, 0.8), lowPass(5500, 0.55)
	for i, v := range x {
		v = low.step(v)
		x[i] = top.step(0.5*v + 1.2*lip.step(v))
	}
	return x
}
