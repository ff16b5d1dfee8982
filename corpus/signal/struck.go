package signal

import "math"

// struckNote is a note of a keyboard instrument with felt hammers.
type struckNote struct {
	at       float64 // seconds
	hz       float64 // of the first partial, as if the string had no stiffness
	velocity float64 // 0 to 1: louder and, as the felt hardens, brighter
	release  float64 // seconds: when the damper falls
}

// The string and its hammer. The coefficients are ours; the sizes are common
// practice for the middle of a grand piano.
const (
	strikePoint  = 1.0 / 8 // share of the length from the end
	softCorner   = 420.0   // hertz: where the felt's spectrum has fallen by 3 dB
	hardCorner   = 2400.0
	felt         = 0.0022 // seconds of contact
	damperDecay  = 0.22   // seconds to −60 dB under the damper
	stiffness165 = 2.2e-4 // inharmonicity of a string of 165 Hz
)

// stiffness returns the inharmonicity B of the string for a note.
func stiffness(hz float64) float64 { return stiffness165 * math.Pow(hz/165, 1.2) }

// partial returns the frequency of the nth partial of a stiff string with
// pinned ends, n·f0·sqrt(1 + B·n²) (Fletcher, J. Acoust. Soc. Am. 36:203, 1964).
func partial(n int, hz, b float64) float64 {
	k := float64(n)
	return k * hz * math.Sqrt(1+b*k*k)
}

// strike adds the note to x. Each partial decays in two stages, as strings in
// unison do: fast while they move together, slowly when they have come apart
// (Weinreich, J. Acoust. Soc. Am. 62:1474, 1977).
func (s struckNote) strike(x []float64, hand, noise dice) {
	note := x[frame(s.at):]
	sound := make([]float64, len(note))
	b := stiffness(s.hz)
	corner := softCorner * math.Pow(hardCorner/softCorner, s.velocity)
	for n := 1; ; n++ {
		f := partial(n, s.hz, b)
		level := math.Sin(float64(n)*math.Pi*strikePoint) * feltSpectrum(f, corner) * soundboard(f)
		if f > 12*corner || f > toneLimit*scoreRate {
			break
		}
		quick := 1 / (1/(5*math.Sqrt(165/s.hz)) + f*f/6e6)
		ring(sound, mode{f, level, quick * hand.around(1, 0.15), 0})
		apart := hand.around(0, 0.25) // hertz: strings never quite agree
		ring(sound, mode{f + apart, 0.22 * level * hand.around(1, 0.4), 3.2 * quick * hand.around(1, 0.2), 0})
	}
	s.knock(sound, noise)
	s.shape(sound)
	for i, v := range sound {
		note[i] += v * s.velocity
	}
}

// feltSpectrum returns the force that a soft hammer puts into frequency f.
func feltSpectrum(f, corner float64) float64 {
	u := f / corner
	return 1 / (1 + u*u*math.Sqrt(u))
}

// soundboard returns how well the board radiates: little below its first
// modes, then with shallow hills and valleys that are the instrument's own.
func soundboard(f float64) float64 {
	u := f / 90
	hills := 0.16*math.Sin(f/61+1) + 0.13*math.Sin(f/143+2.2) + 0.1*math.Sin(f/397)
	return u * u / (1 + u*u) * (1 + hills)
}

// knock adds the thud of hammer and key bed through the board's low modes.
func (s struckNote) knock(sound []float64, noise dice) {
	const length = 0.16
	low, mid := bandPass(noise.around(105, 6), 3), bandPass(noise.around(310, 20), 2)
	n := min(len(sound), frame(length))
	for i, v := range noise.white(n) {
		t := seconds(i)
		burst := v * raisedCosine(t/0.004) * math.Exp(-t/0.018)
		sound[i] += 0.16*low.step(burst) + 0.08*mid.step(burst)
	}
}

// shape rounds the onset to the time of the felt's contact and damps the string
// from the release on.
func (s struckNote) shape(sound []float64) {
	for i := range min(frame(felt), len(sound)) {
		sound[i] *= raisedCosine(seconds(i) / felt)
	}
	damp(sound, frame(s.release-s.at), damperDecay)
}

// struckPhrase is a slow falling line that ends on one long low note.
var struckPhrase = []struckNote{
	{0.50, 329.63, 0.42, 3.1},
	{1.52, 246.94, 0.36, 3.1},
	{2.49, 293.66, 0.40, 5.2},
	{3.55, 220.00, 0.33, 5.2},
	{4.61, 164.81, 0.42, 13.4},
	{4.66, 246.94, 0.22, 13.4},
}

// playStruck performs the phrase in a small room.
func playStruck(n int, seed uint64) [][]float64 {
	x := make([]float64, n)
	hand, noise := played("struck"), throw(seed, "struck")
	for _, s := range struckPhrase {
		s.strike(x, hand, noise)
	}
	parlour := room{decay: 0.7, high: 0.35, predelay: 0.006, wet: 0.03}
	return [][]float64{parlour.reverberate(x, played("struck room"))}
}
