package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strconv"

	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

func clipName(index int) string { return strconv.Itoa(index) + ".js" }

// clipTrack is one track of a clip: samples, or a mix of two others. PCM holds
// interleaved 16-bit samples, little-endian, which JSON writes as base64; Scale
// is the value of one count.
type clipTrack struct {
	Scale float64 `json:"scale,omitempty"`
	PCM   []byte  `json:"pcm,omitempty"`
	Mix   []part  `json:"mix,omitempty"`
}

// part is a share of another track, by its place in the clip.
type part struct {
	Track int     `json:"track"`
	Gain  float64 `json:"gain"`
}

// writeClip writes the excerpt of an item as a script that hands it to the page:
// the reference, then output and residual of each rung. An output is the
// reference and the residual mixed again, which halves the clip and leaves all
// outputs with the dither of one reference, so that nothing but the residual
// tells them apart; where its file says otherwise, as when it was clipped, the
// clip holds its samples.
func writeClip(w io.Writer, dir string, index int, item *Item, seed uint64) error {
	c := clip{dir: dir, item: item, dither: rand.New(rand.NewPCG(seed, uint64(index)))}
	reference, err := c.read(&c.reference, item.Reference.File)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "quietcrossClip(%d,[\n", index)
	if err := writeTrack(w, c.store(reference)); err != nil {
		return err
	}
	for k := range item.Renderings {
		output, residual, err := c.rung(k, reference)
		if err != nil {
			return err
		}
		for _, t := range []clipTrack{output, residual} {
			io.WriteString(w, ",\n")
			if err := writeTrack(w, t); err != nil {
				return err
			}
		}
	}
	_, err = io.WriteString(w, "]);\n")
	return err
}

func writeTrack(w io.Writer, t clipTrack) error {
	text, err := json.Marshal(t)
	if err != nil {
		return err
	}
	_, err = w.Write(text)
	return err
}

// clip makes the tracks of one item.
type clip struct {
	dir    string
	item   *Item
	dither *rand.Rand

	reference, output, residual planar.Audio // room for what is read
}

// rung returns the two tracks of rung k.
func (c *clip) rung(k int, reference [][]float64) (output, residual clipTrack, err error) {
	r := &c.item.Renderings[k]
	out, err := c.read(&c.output, r.File)
	if err != nil {
		return output, residual, err
	}
	rest, err := c.read(&c.residual, r.Residual.File)
	if err != nil {
		return output, residual, err
	}
	residual = c.store(rest)
	output.Mix = []part{
		{0, r.FileGain()},
		{2 + 2*k, (-r.Residual.MakeUp).Amplitude()},
	}
	if !isMix(out, reference, rest, output.Mix) {
		output = c.store(out)
	}
	return output, residual, nil
}

// isMix tells whether a file is the mix, to within twice what rounding to 16
// bits at its own peak could change.
func isMix(out, a, b [][]float64, mix []part) bool {
	limit := 2 * peak(out) / math.MaxInt16
	for c := range out {
		for i, v := range out[c] {
			if !(math.Abs(a[c][i]*mix[0].Gain+b[c][i]*mix[1].Gain-v) <= limit) {
				return false
			}
		}
	}
	return true
}

// fullCount is the count that the strongest sample of a track gets, leaving room
// for dither.
const fullCount = 32760

// store rounds samples to 16 bits of their own peak, with triangular dither but
// for digital silence.
func (c *clip) store(x [][]float64) clipTrack {
	t := clipTrack{Scale: peak(x) / fullCount, PCM: make([]byte, 0, 2*len(x)*len(x[0]))}
	for i := range x[0] {
		for ch := range x {
			count := 0.0
			if t.Scale > 0 {
				count = math.Round(x[ch][i]/t.Scale + c.dither.Float64() - c.dither.Float64())
			}
			n := uint16(int16(count))
			t.PCM = append(t.PCM, byte(n), byte(n>>8))
		}
	}
	return t
}

func peak(x [][]float64) float64 {
	most := 0.0
	for _, channel := range x {
		for _, v := range channel {
			most = max(most, math.Abs(v))
		}
	}
	return most
}

// read reads the frames of a file that the page plays.
func (c *clip) read(room *planar.Audio, file string) ([][]float64, error) {
	r, err := wave.Open(filepath.Join(c.dir, filepath.FromSlash(file)))
	if err != nil {
		return nil, err
	}
	defer r.Close()
	e := c.item.Excerpt
	if err := r.SeekFrame(e.Start); err != nil {
		return nil, err
	}
	if len(*room) != r.Format().Channels {
		*room = planar.New(r.Format().Channels, int(e.Frames))
	}
	x := *room
	n, err := r.Read(x)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if int64(n) < e.Frames {
		return nil, fmt.Errorf("%s: found %d frames from frame %d, want %d", file, n, e.Start, e.Frames)
	}
	return x, nil
}
