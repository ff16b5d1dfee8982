package network

import "math"

// Loudspeaker is a moving-coil drive unit in an infinite baffle, as its terminals
// show it: voice-coil resistance and inductance in series with the parallel
// resonance of the moving system (A. N. Thiele, JAES 19(5):382, 1971; R. H. Small,
// JAES 20(5):383, 1972).
type Loudspeaker struct {
	A, B Node
	SpeakerLaw
}

// SpeakerLaw holds a loudspeaker's small-signal parameters.
type SpeakerLaw struct {
	Ohms      float64 // Re, voice-coil resistance, > 0
	Henries   float64 // Le, voice-coil inductance, >= 0
	Resonance float64 // fs, Hz, > 0
	Qms, Qes  float64 // mechanical and electrical quality at fs, > 0
}

// Motional returns the elements of the moving system as the terminals see them:
//
//	Res = Re Qms/Qes ohms, Cmes = Qes/(2 pi fs Re) farads, Lces = Re/(2 pi fs Qes) henries
func (l SpeakerLaw) Motional() (ohms, farads, henries float64) {
	w := 2 * math.Pi * l.Resonance
	return l.Ohms * l.Qms / l.Qes, l.Qes / (w * l.Ohms), l.Ohms / (w * l.Qes)
}

// Qts returns the total quality Qms Qes/(Qms + Qes), and the maximum impedance
// Re + Res, in ohms.
func (l SpeakerLaw) Qts() (total, maximum float64) {
	ohms, _, _ := l.Motional()
	return l.Qms * l.Qes / (l.Qms + l.Qes), l.Ohms + ohms
}

func (l Loudspeaker) attach(a *assembly) {
	ohms, farads, henries := l.Motional()
	at := a.through(a.node(l.A), l.Ohms)
	if l.Henries > 0 {
		inner := a.variable()
		a.store(at, inner, l.Henries, true, true)
		at = inner
	}
	end := a.node(l.B)
	a.conductance(at, end, 1/ohms)
	a.speakers = append(a.speakers, len(a.reactances))
	a.store(at, end, farads, false, false)
	a.store(at, end, henries, true, false)
}

// Cone returns the movement behind the i-th loudspeaker's terminals in the order
// added: the voltage that the moving coil induces, Bl times its velocity, and that
// voltage's integral in volt-seconds, Bl times the displacement from rest.
func (t *Transient) Cone(i int) (induced, integral float64) {
	first := t.solver.assembly.speakers[i]
	spring := t.solver.assembly.reactances[first+1]
	return t.state[first].history[0], spring.size * t.state[first+1].history[0]
}
