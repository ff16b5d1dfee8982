package hearing

// Reference is a reference signal already heard, to be compared with many tests:
// half of the work of a [Comparator], done once. It keeps about 12 kB a frame
// and channel, 34 MB for a minute of one channel, and is meant for excerpts.
// It is read-only and may be used by many goroutines at once.
type Reference struct {
	config Config
	length int
	frames [][]sensation // [frame][channel]
}

// NewReference hears a whole reference, indexed [channel][frame]. It returns an
// error if the configuration is outside its legal ranges and panics unless
// signal has the configured number of equally long channels.
func NewReference(c Config, signal [][]float64) (*Reference, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	mustMatch("reference", signal, c.Channels, signal)
	r := &Reference{config: c, length: len(signal[0])}
	r.frames = make([][]sensation, 0, max(0, (r.length-hop)/hop))
	l := newListener(c, newAnalyser(c.PlaybackSPL))
	for offset := 0; offset < r.length; {
		offset += l.framer.take(signal, offset)
		if l.framer.full() {
			heard := make([]sensation, c.Channels)
			l.hear(heard)
			r.frames = append(r.frames, heard)
		}
	}
	return r, nil
}

// Compare returns what a [Comparator] would for this reference and test. It
// panics unless test is as long as the reference in as many channels.
func (r *Reference) Compare(test [][]float64) Result {
	mustMatch("test", test, r.config.Channels, test)
	if len(test[0]) != r.length {
		panic("hearing: the test is not as long as the reference")
	}
	l := newListener(r.config, newAnalyser(r.config.PlaybackSPL))
	heard := make([]sensation, r.config.Channels)
	j := newJudge(r.config)
	offset := 0
	for _, reference := range r.frames {
		for !l.framer.full() {
			offset += l.framer.take(test, offset)
		}
		l.hear(heard)
		j.add(reference, heard)
	}
	return j.result()
}
