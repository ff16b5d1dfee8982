package signal

import "math"

// The brushed drum: at this tempo, sweeps on every beat and light strokes on
// the second and fourth.
const (
	brushBeat  = 0.702 // seconds
	brushStart = 0.5
	brushBeats = 14
)

// brushStroke is one tap of the wires.
type brushStroke struct {
	at    float64 // beats
	level float64 // dB
}

var brushStrokes = []brushStroke{
	{1, -4},
	{3, -1},
	{3.66, -17},
	{5, -3},
	{6.67, -15},
	{7, -2},
	{7.66, -19},
	{9, -4},
	{10.66, -14},
	{11, 0},
	{13, -7},
}

// head holds the modes of the drum's skin, as ratios of an ideal membrane's
// Bessel zeros (01, 11, 21, 02, 31).
var head = [...]float64{1, 1.593, 2.136, 2.295, 2.653}

// playBrush performs the pattern in a small dry room.
func playBrush(n int, seed uint64) [][]float64 {
	hand := played("brush")
	x := sweep(n, hand, throw(seed, "brush sweep"))
	wires := throw(seed, "brush strokes")
	for _, s := range brushStrokes {
		at := brushStart + brushBeat*s.at + hand.around(0, 0.008)
		s.play(x[frame(at):], hand, wires)
	}
	skin := lowPass(8500, 0.6)
	skin.run(x)
	club := room{decay: 0.45, high: 0.3, predelay: 0.004, wet: 0.05}
	return [][]float64{club.reverberate(x, played("brush room"))}
}

// sweep returns the wires drawn in circles over the skin: grains of noise that
// come faster and brighter as the hand speeds up, twice a beat.
func sweep(n int, hand, wires dice) []float64 {
	x := make([]float64, n)
	drift, force := hand.wander(n, 1.1), hand.wander(n, 3)
	low, high := bandPass(1500, 0.6), bandPass(5200, 0.7)
	for i := range x {
		t := seconds(i)
		beats := (t-brushStart)/brushBeat + 0.03*drift[i]
		speed := sweepSpeed(beats) * (1 + 0.12*force[i])
		var grain float64
		if rate := 0.02 + 0.25*speed; wires.Float64() < rate {
			grain = wires.NormFloat64() / math.Sqrt(rate)
		}
		x[i] = 0.45 * speed * (0.5*low.step(grain) + 0.9*speed*high.step(grain))
		x[i] *= raisedCosine((t-brushStart)/0.3) * raisedCosine((brushEnd()-t)/1.6)
	}
	return x
}

// brushEnd is when the last sweep has died away.
func brushEnd() float64 { return brushStart + brushBeat*brushBeats + 1.2 }

// sweepSpeed returns the hand's speed, about 1 at its maximum: a long arc to
// each beat and a short one back.
func sweepSpeed(beats float64) float64 {
	_, u := math.Modf(max(beats, 0))
	arc := math.Sin(math.Pi * min(u/0.62, 1))
	back := math.Sin(math.Pi * max(0, (u-0.62)/0.38))
	return 0.12 + 0.75*arc*arc + 0.45*back*back
}

// play adds a stroke: the wires landing one after another, their rustle on the
// skin, and a trace of the drum's own note.
func (s brushStroke) play(x []float64, hand, wires dice) {
	loud := decibels(s.level)
	body, snap := bandPass(2600, 0.6), highPass(3000, 0.7)
	for i := range min(len(x), frame(0.5)) {
		t := seconds(i)
		land := raisedCosine(t/0.006) * math.Exp(-t/0.022)
		rustle := 0.16 * raisedCosine(t/0.02) * math.Exp(-t/0.09)
		v := wires.NormFloat64()
		x[i] += 1.25 * loud * (land + rustle) * (0.8*body.step(v) + 0.35*snap.step(v))
	}
	for i, ratio := range head {
		ring(x, mode{
			hz:    188 * ratio * hand.around(1, 0.004),
			level: 0.20 * loud * hand.around(1, 0.3) / float64(i+1),
			decay: 0.24 / ratio,
			phase: 0,
		})
	}
}
