package signal

import (
	"math"
)

// pluckedNote is a note of a small instrument with a wooden body, plucked with
// the finger.
type pluckedNote struct {
	at      float64 // seconds
	hz      float64
	force   float64 // 0 to 1
	point   float64 // share of the length from the bridge
	release float64 // seconds: the finger comes back to the string
}

const (
	pluckedStiffness = 5e-5 // inharmonicity of the strings, common practice
	fingerDecay      = 0.09 // seconds to −60 dB under the finger
)

// pluck adds the note to x: two polarisations of the same string, one across
// the top plate, which takes its energy quickly, and one along it.
func (p pluckedNote) pluck(x []float64, hand, noise dice) {
	note := x[frame(p.at):]
	across := stringSpec{p.hz, pluckedStiffness, 3.2 * math.Sqrt(220/p.hz), 0.55}
	along := stringSpec{p.hz * (1 + hand.around(0, 4e-4)), pluckedStiffness, 2.4 * across.decay, 0.9}
	strong, weak := newWaveguide(across), newWaveguide(along)
	finger := p.finger(noise)
	sound := make([]float64, min(len(note), frame(p.release-p.at+2*fingerDecay)))
	for i := range sound {
		var push float64
		if i < len(finger) {
			push = finger[i]
		}
		sound[i] = strong.step(push) + 0.3*weak.step(push)
	}
	damp(sound, frame(p.release-p.at), fingerDecay)
	for i, v := range sound {
		note[i] += p.force * v
	}
}

// finger returns the excitation: the tip slipping off in half a millisecond,
// with a little friction, and its reflection from the near end, which leaves
// out the partials that have a node at the point.
func (p pluckedNote) finger(noise dice) []float64 {
	const slip = 0.00045
	pulse := make([]float64, frame(0.03))
	friction := noise.white(frame(0.006))
	for i := range frame(slip) {
		pulse[i] = raisedCosine(1 - math.Abs(2*seconds(i)/slip-1))
	}
	for i, v := range friction {
		pulse[i] += 0.06 * v * raisedCosine(1-seconds(i)/0.006)
	}
	slope, skin := lowPass1(260), lowPass1(1500+4000*p.force)
	for i, v := range pulse {
		pulse[i] = slope.step(skin.step(v)) * raisedCosine((0.03-seconds(i))/0.01)
	}
	lag := p.point * scoreRate / p.hz
	out := make([]float64, len(pulse)+int(lag)+1)
	whole, u := int(lag), lag-math.Floor(lag)
	for i, v := range pulse {
		out[i] += v
		out[i+whole] -= (1 - u) * v
		out[min(i+whole+1, len(out)-1)] -= u * v
	}
	return out
}

// pluckedPhrase is a broken chord that slows down and is left to ring.
var pluckedPhrase = []pluckedNote{
	{0.500, 146.83, 0.62, 0.21, 4.90},
	{0.957, 220.00, 0.44, 0.20, 2.62},
	{1.389, 293.66, 0.47, 0.22, 3.10},
	{1.836, 349.23, 0.52, 0.20, 3.56},
	{2.264, 329.63, 0.46, 0.21, 4.05},
	{2.671, 220.00, 0.40, 0.22, 4.98},
	{3.141, 293.66, 0.43, 0.21, 5.47},
	{3.611, 440.00, 0.55, 0.19, 6.50},
	{4.094, 349.23, 0.42, 0.21, 6.10},
	{4.951, 116.54, 0.56, 0.23, 12.30},
	{5.020, 233.08, 0.36, 0.21, 12.31},
	{5.540, 293.66, 0.38, 0.21, 12.32},
	{6.190, 349.23, 0.34, 0.20, 12.33},
}

// playPlucked performs the phrase in a small room.
func playPlucked(n int, seed uint64) [][]float64 {
	x := make([]float64, n)
	hand, noise := played("plucked"), throw(seed, "plucked")
	for _, p := range pluckedPhrase {
		p.pluck(x, hand, noise)
	}
	resonate(x)
	parlour := room{decay: 0.6, high: 0.35, predelay: 0.005, wet: 0.02}
	return [][]float64{parlour.reverberate(x, played("plucked room"))}
}

// body holds the resonances of the instrument's air and plates: frequency, Q
// and weight. The sizes are common practice for a guitar.
var body = []struct{ hz, q, weight float64 }{
	{102, 14, 0.8},
	{204, 20, 0.8},
	{263, 18, 0.5},
	{378, 24, 0.45},
	{446, 28, 0.35},
	{531, 26, 0.35},
	{668, 22, 0.3},
	{905, 16, 0.3},
	{1370, 10, 0.3},
	{2480, 5, 0.25},
}

// resonate passes x through the body.
func resonate(x []float64) {
	direct := lowPass(5200, 0.6)
	modes := make([]biquad, len(body))
	for i, m := range body {
		modes[i] = bandPass(m.hz, m.q)
	}
	for i, v := range x {
		y := 0.45 * direct.step(v)
		for m := range modes {
			y += body[m].weight * modes[m].step(v)
		}
		x[i] = y
	}
}
