package signal

import "math"

// voice is a glottis and a vocal tract: pulses and breath noise through a chain
// of formant resonators (the arrangement of Klatt, J. Acoust. Soc. Am. 67:971,
// 1980), whose settings glide from sound to sound.
type voice struct {
	glottis  glottis
	noise    dice
	loud     glide
	air      glide
	formants [3]glide
	tract    [len(bandwidths)]resonator
	count    int
}

// upperFormants in hertz do not move with the sounds spoken.
var upperFormants = [...]float64{3450, 4300, 5250, 6400, 7700}

// bandwidths holds those of all formants in hertz.
var bandwidths = [...]float64{75, 95, 130, 220, 300, 450, 600, 800}

func newVoice(hand, noise dice) *voice {
	v := &voice{
		glottis: glottis{hand: hand, length: 1, strength: 1, tilt: lowPass1(5000)},
		noise:   noise,
		loud:    newGlide(0.014),
		air:     newGlide(0.014),
	}
	for i := range v.formants {
		v.formants[i] = newGlide(0.022)
	}
	return v
}

// step returns the next sample of a sound at a pitch in hertz.
func (v *voice) step(pitch float64, sound phoneme) float64 {
	const hop = 32 // samples between settings of the tract
	if v.count%hop == 0 {
		v.shape(hop, sound)
	}
	v.count++
	loud, air := v.loud.next(sound.voice), v.air.next(sound.breath)
	pulse, open := v.glottis.step(pitch)
	x := loud*pulse + (0.035*loud+0.08*air)*open*v.noise.NormFloat64()
	for i := range v.tract {
		x = v.tract[i].step(x)
	}
	return x
}

// shape moves the formants on by hop samples and sets the tract to them.
func (v *voice) shape(hop int, sound phoneme) {
	for i := range v.formants {
		f := &v.formants[i]
		if v.count == 0 {
			f.jump(sound.formants[i])
		}
		for range hop {
			f.next(sound.formants[i])
		}
		v.tract[i].set(f.second.state, bandwidths[i])
	}
	for i, hz := range upperFormants {
		v.tract[len(v.formants)+i].set(hz, bandwidths[len(v.formants)+i])
	}
}

// glottis makes the pulses of the vocal folds. No two cycles are quite alike.
type glottis struct {
	hand     dice
	phase    float64 // of the cycle, 0 to 1
	length   float64 // this cycle's, re the pitch asked for
	strength float64 // this cycle's, near 1
	tilt     onePole // the softness of the closure
}

// openQuotient is the share of a cycle in which the folds are apart. It is
// large in a soft voice.
const openQuotient = 0.68

// step returns the derivative of the flow, and how open the folds are for the
// noise of the breath. The flow is u² − u³ over the open time (Klatt and Klatt,
// J. Acoust. Soc. Am. 87:820, 1990). Its derivative jumps at the closure, and
// the jump is rounded over two samples, so that it does not fold back.
func (g *glottis) step(pitch float64) (flow, open float64) {
	advance := pitch / (g.length * scoreRate)
	g.phase += advance
	if g.phase >= 1 {
		g.phase--
		g.length = 1 + 0.005*g.hand.NormFloat64()
		g.strength = 1 + 0.035*g.hand.NormFloat64()
	}
	open = 0.35
	if u := g.phase / openQuotient; u < 1 {
		flow, open = 2*u-3*u*u, 1
	}
	if d := (g.phase - openQuotient) / advance; math.Abs(d) < 1 {
		flow -= math.Copysign((1-math.Abs(d))*(1-math.Abs(d))/2, d)
	}
	return g.tilt.step(g.strength * flow), open
}

// resonator is one formant, of unit gain at DC.
type resonator struct{ a, b, c, y1, y2 float64 }

func (r *resonator) set(hz, bandwidth float64) {
	radius := math.Exp(-math.Pi * bandwidth / scoreRate)
	r.c = -radius * radius
	r.b = 2 * radius * math.Cos(turn(hz))
	r.a = 1 - r.b - r.c
}

func (r *resonator) step(x float64) float64 {
	y := r.a*x + r.b*r.y1 + r.c*r.y2
	r.y1, r.y2 = y, r.y1
	return y
}

// glide follows a target without overshoot, as an articulator does.
type glide struct{ first, second onePole }

// newGlide returns a glide of the given time constant in seconds.
func newGlide(seconds float64) glide {
	p := onePole{keep: math.Exp(-2 / (seconds * scoreRate))}
	return glide{p, p}
}

func (g *glide) next(target float64) float64 { return g.second.step(g.first.step(target)) }

func (g *glide) jump(target float64) { g.first.state, g.second.state = target, target }
