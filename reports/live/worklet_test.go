package live_test

import (
	"encoding/json"
	"math"
	"testing"
)

// arrival is blocks of indices From up to To that come to the audio thread before a quantum,
// two of which make a block.
type arrival struct {
	Before   int     `json:"before"`
	Revision int     `json:"revision"`
	From     int     `json:"from"`
	To       int     `json:"to"`
	Moved    float64 `json:"moved,omitempty"`
}

// outlet is what the audio thread played and said.
type outlet struct {
	Played []float64 `json:"played"`
	Late   int       `json:"late"`   // times it said how late it followed a move
	Missed int       `json:"missed"` // gaps
}

// stubs stand for what a browser has around the audio thread's script.
const stubs = `
const outlets = {};
class AudioWorkletProcessor { constructor() { this.port = port(); } }
function registerProcessor(name, made) { outlets[name] = made; }`

func playedOut(t *testing.T, quanta int, arrivals ...arrival) outlet {
	t.Helper()
	asked, err := json.Marshal(map[string]any{"quanta": quanta, "arrivals": arrivals})
	if err != nil {
		t.Fatal(err)
	}
	output := inNode(t, string(asked), stubs, script(t, "assets/worklet.js"), script(t, "testdata/worklet.js"))
	var o outlet
	if err := json.Unmarshal(output, &o); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	return o
}

// sine is what the script's blocks hold.
func sine(size float64, frame int) float64 {
	return size * math.Sin(2*math.Pi*443.7*float64(frame)/48000)
}

// TestOutletRevises: blocks that are made again take the place of those not begun, however late
// they come and whether all do; none begins with a step, and what changed is heard.
func TestOutletRevises(t *testing.T) {
	first := arrival{To: 20}
	for name, c := range map[string]struct {
		arrivals []arrival
		last     float64 // the size of the sine at the end
		late     int
	}{
		"nothing changes":          {[]arrival{first}, 0.3, 0},
		"in time":                  {[]arrival{first, {Before: 4, Revision: 1, From: 5, To: 20, Moved: 1}}, 0.5, 1},
		"when the first has begun": {[]arrival{first, {Before: 9, Revision: 1, From: 4, To: 20}}, 0.5, 0},
		"twice":                    {[]arrival{first, {Before: 4, Revision: 1, From: 5, To: 20, Moved: 1}, {Before: 6, Revision: 2, From: 5, To: 20, Moved: 2}}, 0.4, 1},
		"again, by something else": {[]arrival{first, {Before: 4, Revision: 1, From: 5, To: 20, Moved: 1}, {Before: 6, Revision: 2, From: 5, To: 20}}, 0.4, 1},
		"not all":                  {[]arrival{first, {Before: 4, Revision: 1, From: 5, To: 8}}, 0.3, 0},
		"the rest too late":        {[]arrival{first, {Before: 4, Revision: 1, From: 5, To: 8}, {Before: 20, Revision: 1, From: 8, To: 20}}, 0.5, 0},
	} {
		o := playedOut(t, 40, c.arrivals...)
		// A sine's own steps, and those of 0.2 V that go in a block.
		own := 0.5*2*math.Sin(math.Pi*443.7/48000) + 0.2/256
		for i := 1; i < len(o.Played); i++ {
			if step := math.Abs(o.Played[i] - o.Played[i-1]); step > 1.05*own {
				t.Errorf("%s: a step of %.4f at frame %d, the sound's own are %.4f", name, step, i, own)
			}
		}
		for i := len(o.Played) - 256; i < len(o.Played); i++ {
			if math.Abs(o.Played[i]-sine(c.last, i)) > 1e-6 {
				t.Fatalf("%s: at the end %g, want %g", name, o.Played[i], sine(c.last, i))
			}
		}
		if o.Late != c.late || o.Missed != 0 {
			t.Errorf("%s: said how late it was %d times, want %d; %d gaps", name, o.Late, c.late, o.Missed)
		}
	}
	// In time, the first block goes over and the next is the new one.
	o := playedOut(t, 40, first, arrival{Before: 4, Revision: 1, From: 5, To: 20})
	for i := range 256 * 6 {
		from, to := sine(0.3, i), sine(0.5, i)
		want := from
		if i >= 256*5 {
			want += (to - from) * float64(i-256*5+1) / 256
		}
		if math.Abs(o.Played[i]-want) > 1e-6 {
			t.Fatalf("frame %d: %g, want %g", i, o.Played[i], want)
		}
	}
	if o := playedOut(t, 40, arrival{To: 10}); o.Missed != 1 {
		t.Errorf("%d gaps where the blocks ended, want 1", o.Missed)
	}
}
