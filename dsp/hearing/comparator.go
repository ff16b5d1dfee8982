package hearing

// Comparator compares a test signal with its reference while they stream by.
// Its memory does not grow with the length of the signals, but for the bounded
// [Series].
type Comparator struct {
	ref, test           *listener
	heardRef, heardTest []sensation
	judge               *judge
}

// NewComparator returns a comparator, or an error if the configuration is
// outside its legal ranges.
func NewComparator(c Config) (*Comparator, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	a := newAnalyser(c.PlaybackSPL)
	return &Comparator{
		ref:       newListener(c, a),
		test:      newListener(c, a),
		heardRef:  make([]sensation, c.Channels),
		heardTest: make([]sensation, c.Channels),
		judge:     newJudge(c),
	}, nil
}

// Add compares the next block. Both signals must be aligned in time, matched in
// level and finite; each is indexed [channel][frame] with the configured number
// of channels and any common number of frames, else Add panics.
func (c *Comparator) Add(ref, test [][]float64) {
	mustMatch("reference", ref, len(c.heardRef), ref)
	mustMatch("test", test, len(c.heardRef), ref)
	for offset := 0; offset < len(ref[0]); {
		n := c.ref.framer.take(ref, offset)
		c.test.framer.take(test, offset)
		offset += n
		if c.ref.framer.full() {
			c.ref.hear(c.heardRef)
			c.test.hear(c.heardTest)
			c.judge.add(c.heardRef, c.heardTest)
		}
	}
}

// Result returns the variables of what has been added so far. More may be added
// afterwards.
func (c *Comparator) Result() Result { return c.judge.result() }
