package render

import (
	"errors"
	"io"
	"path/filepath"
	"sync"

	"quietcross/corpus"
	"quietcross/corpus/signal"
	"quietcross/dsp/intake"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

// Source is something to render: a WAV file or built-in material. Open may be
// called several times, once for each level.
type Source interface {
	// Describe says what the source is, for the manifest. It may read the
	// beginning of a file.
	Describe() (corpus.Source, error)
	// Open starts reading from the first frame.
	Open() (intake.Stream, error)
}

// File is a WAV or FLAC file as a source.
type File struct {
	Path string
	// Name stands for the file in what is made of it; "" stands for the base name.
	Name string
}

// Open implements [Source].
func (f File) Open() (intake.Stream, error) {
	return intake.Open(f.Path)
}

// Describe implements [Source]: it tells tones from programme by the file's
// first seconds.
func (f File) Describe() (corpus.Source, error) {
	stream, err := f.Open()
	if err != nil {
		return corpus.Source{}, err
	}
	defer stream.Close()
	kind, tones, err := classify(stream)
	if err != nil {
		return corpus.Source{}, err
	}
	name := f.Name
	if name == "" {
		name = filepath.Base(f.Path)
	}
	return corpus.Source{
		Name:   name,
		Kind:   kind,
		Tones:  tones,
		Format: stream.Format().String(),
	}, nil
}

// Material is built-in material as a source.
type Material struct {
	signal.Material
	// Rate is the sampling rate to generate at, Hz.
	Rate int
	// Seed drives the random parts.
	Seed uint64
}

// materialBits is the word length in which material is written unless another
// format is asked for.
const materialBits = 24

// Open implements [Source]. The samples are made when they are first read.
func (m Material) Open() (intake.Stream, error) {
	frames, err := m.Frames(m.Rate)
	if err != nil {
		return nil, err
	}
	return &generated{memory{format: m.format(m.Channels)}, m, int64(frames)}, nil
}

// Describe implements [Source].
func (m Material) Describe() (corpus.Source, error) {
	source := corpus.Source{
		Name:     m.Name,
		Material: true,
		Kind:     m.Kind.String(),
		Title:    m.Title,
		Shows:    m.Shows,
		Format:   m.format(m.Channels).String(),
	}
	for _, tone := range m.Tones {
		source.Tones = append(source.Tones, tone.Frequency)
	}
	return source, nil
}

func (m Material) format(channels int) wave.Format {
	return wave.Format{Rate: m.Rate, Channels: channels, Encoding: wave.PCM, Bits: materialBits}
}

// memory is a stream over audio held in memory.
type memory struct {
	audio  [][]float64
	format wave.Format
	next   int
}

func (m *memory) Format() wave.Format { return m.format }
func (m *memory) Frames() int64       { return int64(len(m.audio[0])) }
func (m *memory) Warnings() []string  { return nil }
func (m *memory) Close() error        { return nil }

func (m *memory) Read(dst [][]float64) (int, error) {
	n := 0
	for c, channel := range m.audio {
		n = copy(dst[c], channel[m.next:])
	}
	m.next += n
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// generated is a stream of material.
type generated struct {
	memory
	material Material
	frames   int64
}

func (g *generated) Frames() int64 { return g.frames }

func (g *generated) Read(dst [][]float64) (int, error) {
	if g.audio == nil {
		audio, err := g.material.Generate(g.material.Rate, g.material.Seed)
		if err != nil {
			return 0, err
		}
		g.audio = audio
	}
	return g.memory.Read(dst)
}

// Held returns a source that is read once, when it is first opened, and then kept in
// memory for every level and bias: generating a piece takes as long as rendering it. A
// source of more than so many seconds is read anew each time. The result is safe for
// concurrent use.
func Held(source Source, seconds int) Source { return &held{Source: source, seconds: seconds} }

type held struct {
	Source
	seconds int

	mutex    sync.Mutex
	audio    planar.Audio // nil until it is held
	format   wave.Format
	warnings []string
}

// Open implements [Source].
func (h *held) Open() (intake.Stream, error) {
	h.mutex.Lock()
	defer h.mutex.Unlock()
	if h.audio == nil {
		stream, err := h.Source.Open()
		if err != nil {
			return nil, err
		}
		if stream.Frames() == 0 || stream.Frames() > int64(h.seconds)*int64(stream.Format().Rate) {
			return stream, nil
		}
		h.format, h.warnings = stream.Format(), stream.Warnings()
		h.audio, err = planar.ReadAll(stream, h.format.Channels)
		if err = errors.Join(err, stream.Close()); err != nil {
			h.audio = nil
			return nil, err
		}
	}
	return &again{memory{audio: h.audio, format: h.format}, h.warnings}, nil
}

// again is a held stream, with what was odd about it.
type again struct {
	memory
	warnings []string
}

func (a *again) Warnings() []string { return a.warnings }
