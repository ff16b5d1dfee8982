package hearing

// listener runs the ear model on all channels of one signal.
type listener struct {
	analyser *analyser
	framer   *framer
	ears     []ear
}

// newListener returns a listener at its first sample. Listeners used in turn by
// one goroutine may share an analyser.
func newListener(c Config, a *analyser) *listener {
	l := &listener{analyser: a, framer: newFramer(c.Channels), ears: make([]ear, c.Channels)}
	for i := range l.ears {
		l.ears[i].model = standard()
	}
	return l
}

// hear writes what each channel's full frame sounds like and makes room for the
// next hop.
func (l *listener) hear(dst []sensation) {
	for c := range l.ears {
		l.ears[c].hear(&dst[c], l.analyser, l.framer.buffer[c][:])
	}
	l.framer.advance()
}
