package network

// Winding is one winding of a transformer, its start at A.
type Winding struct {
	A, B    Node
	Turns   float64 // relative to the others, > 0
	Ohms    float64 // resistance, >= 0
	Leakage float64 // leakage inductance, H, >= 0
}

// Transformer couples its windings ideally, volts a turn being equal in all and
// ampere-turns adding up to nothing, around a magnetising inductance.
type Transformer struct {
	Windings    []Winding // at least one
	Magnetising float64   // inductance of the first winding, H, > 0
	// Saturation is the flux linkage of the first winding, in volt-seconds, at which
	// its magnetising current is twice what the inductance alone would draw; 0: the
	// core does not saturate.
	Saturation float64
}

func (t Transformer) attach(a *assembly) {
	type end struct{ p, q, current int }
	ends := make([]end, len(t.Windings))
	for i, w := range t.Windings {
		p := a.through(a.node(w.A), w.Ohms)
		if w.Leakage > 0 {
			inner := a.variable()
			a.store(p, inner, w.Leakage, true, true)
			p = inner
		}
		ends[i] = end{p, a.node(w.B), a.variable()}
		a.currents[ends[i].current] = true
		a.entry(ends[i].p, ends[i].current, 1)
		a.entry(ends[i].q, ends[i].current, -1)
	}
	first := ends[0]
	for i, e := range ends {
		a.entry(first.current, e.current, t.Windings[i].Turns)
		if i == 0 {
			continue
		}
		ratio := t.Windings[i].Turns / t.Windings[0].Turns
		a.entry(e.current, e.p, 1)
		a.entry(e.current, e.q, -1)
		a.entry(e.current, first.p, -ratio)
		a.entry(e.current, first.q, ratio)
	}
	if t.Saturation > 0 {
		core(a, first.p, first.q, t.Magnetising, t.Saturation)
		return
	}
	a.store(first.p, first.q, t.Magnetising, true, false)
}
