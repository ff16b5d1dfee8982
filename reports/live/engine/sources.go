package engine

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"quietcross/corpus/signal"
	"quietcross/dsp/distortion"
	"quietcross/dsp/intake"
	"quietcross/dsp/shape"
)

// A Piece is built-in material that a page can offer.
type Piece struct {
	Name  string  `json:"name"`
	Title string  `json:"title"`
	Shows string  `json:"shows"`
	Tone  float64 `json:"tone"` // Hz of a single steady tone, 0 for anything else
	Peak  float64 `json:"peak"` // of that tone, re full scale
	Test  bool    `json:"test"` // a test signal
}

// Pieces lists the built-in material, music first.
func Pieces() []Piece {
	var music, tests []Piece
	for _, m := range append(signal.List(), signal.Standards()...) {
		p := Piece{Name: m.Name, Title: m.Title, Shows: m.Shows, Test: m.Kind != distortion.Programme}
		if m.Kind == distortion.SingleTone && len(m.Tones) == 1 && m.Steps == nil {
			p.Tone, p.Peak = m.Tones[0].Frequency, m.Tones[0].Level.Amplitude()
		}
		if p.Test {
			tests = append(tests, p)
			continue
		}
		music = append(music, p)
	}
	return append(music, tests...)
}

// Generate makes built-in material at rate Hz.
func Generate(name string, rate int, seed uint64) ([][]float32, error) {
	m, err := signal.Lookup(name)
	if err != nil {
		return nil, err
	}
	audio, err := m.Generate(rate, seed)
	if err != nil {
		return nil, err
	}
	return single(audio), nil
}

// single narrows planar audio: 32-bit floats hold 24-bit samples exactly.
func single(audio [][]float64) [][]float32 {
	narrow := make([][]float32, len(audio))
	for c, x := range audio {
		narrow[c] = make([]float32, len(x))
		for i, v := range x {
			narrow[c][i] = float32(v)
		}
	}
	return narrow
}

// maximumSeconds bounds what a page holds of a file.
const maximumSeconds = 15 * 60

// A Recording is a decoded file.
type Recording struct {
	Audio    [][]float32
	Rate     int
	Format   string
	Warnings []string
}

// Decode reads a WAV or FLAC file, of which it keeps the first two channels and the
// first quarter of an hour.
func Decode(name string, data []byte) (*Recording, error) {
	stream, err := intake.New(bytes.NewReader(data), int64(len(data)), name)
	if err != nil {
		return nil, err
	}
	defer stream.Close()
	format := stream.Format()
	r := &Recording{Rate: format.Rate, Format: format.String(), Warnings: stream.Warnings()}
	if format.Channels > 2 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("of %d channels the first two are played", format.Channels))
	}
	frames := stream.Frames()
	if limit := int64(maximumSeconds * format.Rate); frames > limit {
		frames = limit
		r.Warnings = append(r.Warnings, "only the first 15 minutes are played")
	}
	if frames == 0 {
		return nil, fmt.Errorf("%s: holds no sound", name)
	}
	for range min(format.Channels, 2) {
		r.Audio = append(r.Audio, make([]float32, 0, frames))
	}
	return r, r.fill(stream, frames, format.Channels)
}

// fill reads up to frames frames.
func (r *Recording) fill(stream intake.Stream, frames int64, channels int) error {
	block := make([][]float64, channels)
	for c := range block {
		block[c] = make([]float64, 1<<14)
	}
	for int64(len(r.Audio[0])) < frames {
		n, err := stream.Read(block)
		n = int(min(int64(n), frames-int64(len(r.Audio[0]))))
		for c := range r.Audio {
			for _, v := range block[c][:n] {
				r.Audio[c] = append(r.Audio[c], float32(v))
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Encode writes planar audio as a WAV file of 32-bit floats.
func Encode(audio [][]float32, rate int) []byte {
	const header, bytesEach = 58, 4
	frame := bytesEach * len(audio)
	size := frame * len(audio[0])
	file := make([]byte, 0, header+size)
	put16 := func(v int) { file = binary.LittleEndian.AppendUint16(file, uint16(v)) }
	put32 := func(v int) { file = binary.LittleEndian.AppendUint32(file, uint32(v)) }
	file = append(file, "RIFF"...)
	put32(header - 8 + size)
	file = append(file, "WAVEfmt "...)
	put32(18)
	put16(3) // IEEE float
	put16(len(audio))
	put32(rate)
	put32(rate * frame)
	put16(frame)
	put16(8 * bytesEach)
	put16(0)
	file = append(file, "fact"...)
	put32(4)
	put32(len(audio[0]))
	file = append(file, "data"...)
	put32(size)
	for i := range audio[0] {
		for c := range audio {
			put32(int(math.Float32bits(audio[c][i])))
		}
	}
	return file
}

var errStopped = errors.New("stopped")

// Record plays a whole source through a law, from its beginning, the controls held, as
// fast as it goes: what a page saves. It stops when proceed, told the share that is done,
// says so.
func Record(audio [][]float32, rate int, law *shape.Law, drive float64, c Controls, proceed func(share float64) bool) ([][]float32, error) {
	c.Loop, c.Paused = false, false
	p, err := NewPlayer(audio, rate, law, drive, c)
	if err != nil {
		return nil, err
	}
	return p.record(proceed)
}

// RecordInTime is [Record] through a circuit that is followed in time.
func RecordInTime(audio [][]float32, rate int, law *shape.Law, circuit Circuit, drive float64, c Controls, proceed func(share float64) bool) ([][]float32, error) {
	c.Loop, c.Paused = false, false
	p, err := NewPlayer(audio, rate, law, drive, c)
	if err != nil {
		return nil, err
	}
	if err := p.FollowWhole(circuit); err != nil {
		return nil, err
	}
	p.follow.metered()
	out, err := p.record(proceed)
	if p.follow.why != nil {
		return nil, fmt.Errorf("in time: %w", p.follow.why)
	}
	return out, err
}

// record plays all of the source.
func (p *Player) record(proceed func(share float64) bool) ([][]float32, error) {
	audio := p.audio
	skip, total := p.Latency(), len(audio[0])+p.Latency()
	out, block, part := make([][]float32, len(audio)), make([][]float32, len(audio)), make([][]float32, len(audio))
	for c := range block {
		out[c], block[c] = make([]float32, 0, total), make([]float32, MaximumBlock)
	}
	for done := 0; done < total; {
		n := min(MaximumBlock, total-done)
		for c := range part {
			part[c] = block[c][:n]
		}
		p.Play(part)
		for c := range out {
			out[c] = append(out[c], part[c]...)
		}
		if done += n; !proceed(float64(done) / float64(total)) {
			return nil, errStopped
		}
	}
	for c := range out {
		out[c] = out[c][skip:]
	}
	return out, nil
}
