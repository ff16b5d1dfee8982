package measure

import "quietcross/dsp/distortion"

// Report is what was measured of one recording.
type Report struct {
	Rate     float64   `json:"rate_hz"`
	Frames   int64     `json:"frames"`
	Figures  []Figure  `json:"figures"` // of all channels together: loudness, true peak
	Channels []Channel `json:"channels"`
	Warnings []string  `json:"warnings,omitempty"`
}

// Channel is what was measured of one channel.
type Channel struct {
	Index int    `json:"index"` // from 0
	Kind  string `json:"kind"`  // see [distortion.Kind]
	Told  bool   `json:"told"`  // the kind was given, not found
	// From and To bound the frames that the figures of the kind were taken from.
	From    int      `json:"from"`
	To      int      `json:"to"`
	Figures []Figure `json:"figures"`
	Tones   []Line   `json:"tones,omitempty"` // re the strongest
	Lines   []Line   `json:"lines,omitempty"` // harmonics or products, re the reference of their kind
	Bands   []Band   `json:"bands,omitempty"` // third octaves
	// Steps are those of a ladder, each measured as a tone of its own.
	Steps    []Channel `json:"steps,omitempty"`
	Warnings []string  `json:"warnings,omitempty"` // what makes the figures less than they seem, or missing
}

// Figure returns the figure of a key, false when it was not measured.
func (c *Channel) Figure(key string) (Figure, bool) { return find(c.Figures, key) }

// Figure returns the figure of a key, false when it was not measured.
func (r *Report) Figure(key string) (Figure, bool) { return find(r.Figures, key) }

func find(figures []Figure, key string) (Figure, bool) {
	for _, f := range figures {
		if f.Key == key {
			return f, true
		}
	}
	return Figure{}, false
}

// Options say what a recording holds. The zero value finds out.
type Options struct {
	// Kind is the name of a [distortion.Kind]; empty to find out.
	Kind string
	// Tones are the signal's frequencies in hertz, ascending; empty to find them.
	Tones []float64
	// NotchQ is the Q of the AES17 notch, 1.2 to 3; 0 stands for [UsualNotchQ].
	NotchQ float64
}

// kind returns the kind asked for, and whether one was.
func (o Options) kind() (distortion.Kind, bool, error) {
	if o.Kind == "" {
		return 0, false, nil
	}
	k, err := distortion.ParseKind(o.Kind)
	return k, true, err
}

// UsualNotchQ is the Q of the notch unless another is asked for.
const UsualNotchQ = 2.0

func (o Options) notchQ() float64 {
	if o.NotchQ == 0 {
		return UsualNotchQ
	}
	return o.NotchQ
}
