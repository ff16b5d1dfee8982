package wave

import (
	"bytes"
	"errors"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// The tests in this file document where github.com/go-audio/wav v1.1.0 and riff
// v1.0.0 go wrong, and that this package is right on the same bytes. A test that
// fails in its "library" half tells that the library was repaired; then the
// guard may leave more to it.

// full reads a file with the library.
func full(b []byte) (*wav.Decoder, []int, error) {
	d := wav.NewDecoder(bytes.NewReader(b))
	buf, err := d.FullPCMBuffer()
	if buf == nil {
		return d, nil, err
	}
	return d, buf.Data, err
}

// repaired reports a trap that is gone.
func repaired(t *testing.T, what string) {
	t.Helper()
	t.Errorf("library: %s no longer happens; see whether the guard still needs this case", what)
}

func TestTrapFloatAsIntegers(t *testing.T) {
	b := form("RIFF", fmt16(3, 1, 48000, 32), chunk("data", le(float32(0.5), float32(-0.25))))
	if _, data, err := full(b); err != nil || data[0] != 0x3F000000 {
		repaired(t, "float samples returned as their bit patterns")
	}
	compare(t, samples(t, mustRead(t, b)), [][]float64{{0.5, -0.25}})
}

func TestTrapSubFormatDiscarded(t *testing.T) {
	float := form("RIFF", fmt40(1, 48000, 32, 32, 4, subFormat(3)), chunk("data", le(float32(0.5))))
	if d, data, err := full(float); err != nil || d.WavAudioFormat != 0xFFFE || data[0] != 0x3F000000 {
		repaired(t, "the sub-format of EXTENSIBLE discarded")
	}
	compare(t, samples(t, mustRead(t, float)), [][]float64{{0.5}})
	law := form("RIFF", fmt40(1, 8000, 8, 8, 4, subFormat(6)), chunk("data", []byte{1, 2}))
	if _, data, err := full(law); err != nil || len(data) != 2 {
		repaired(t, "a compressed format within EXTENSIBLE read as PCM")
	}
	if _, err := readBytes(law); err == nil || !strings.Contains(err.Error(), "0x0006") {
		t.Errorf("ours: %v", err)
	}
}

func TestTrapCompressedAsPCM(t *testing.T) {
	for name, b := range map[string][]byte{
		"0x0006": form("RIFF", fmt16(6, 1, 8000, 8), chunk("data", []byte{0xD5, 0x55})),
		"0x0007": form("RIFF", fmt16(7, 1, 8000, 8), chunk("data", []byte{0xFF, 0x7F})),
		"0x0011": form("RIFF", fmt16(0x11, 1, 8000, 16), chunk("data", []byte{1, 2, 3, 4})),
	} {
		if _, data, err := full(b); err != nil || len(data) != 2 {
			repaired(t, "format "+name+" read as PCM")
		}
		if _, err := readBytes(b); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("ours: %s: %v", name, err)
		}
	}
}

func TestTrapStreamedSizeWraps(t *testing.T) {
	b := form("RIFF", fmt16(1, 1, 48000, 16), le("data", uint32(0xFFFFFFFF), body16))
	if d, data, err := full(b); err != nil || d.PCMSize != 0 || len(data) != 0 {
		repaired(t, "a data size of 0xFFFFFFFF taken for 0")
	}
	compare(t, samples(t, mustRead(t, b)), want16)
}

func TestTrapPadByteAsSample(t *testing.T) {
	b := form("RIFF", fmt16(1, 1, 8000, 8), chunk("data", []byte{128, 192, 64}))
	if _, data, err := full(b); err != nil || len(data) != 4 {
		repaired(t, "the pad byte read as a sample")
	}
	compare(t, samples(t, mustRead(t, b)), [][]float64{{0, 0.5, -0.5}})
}

// TestTrapAllocation: the library allocates what a size claims. The files here
// claim 2 MiB; the same files with 4 GiB take 8 GiB of memory and half a
// minute.
func TestTrapAllocation(t *testing.T) {
	const claim = 2 << 20
	list := form("RIFF", le("LIST", uint32(claim), "INFOINAM", uint32(claim)))
	smpl := form("RIFF", le("smpl", uint32(claim), make([]byte, 28), uint32(0xFFFFFFFF), uint32(0)))
	for name, b := range map[string][]byte{"LIST": list, "smpl": smpl} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		d := wav.NewDecoder(bytes.NewReader(b))
		d.FwdToPCM()
		runtime.ReadMemStats(&after)
		if after.TotalAlloc-before.TotalAlloc < claim {
			repaired(t, "memory for what "+name+" claims")
		}
		if name == "smpl" && len(d.Metadata.SamplerInfo.Loops) < claim/24-10 {
			repaired(t, "loops read from a chunk that is not there")
		}
		if alloc, _, err := cost(bytes.NewReader(b), int64(len(b))); err == nil || alloc > 1<<20 {
			t.Errorf("ours: %s: %d bytes, %v", name, alloc, err)
		}
	}
}

func TestTrapNilErrors(t *testing.T) {
	long := form("RF64", chunk("ds64", append(le(uint64(78), uint64(6), uint64(3)), 0, 0, 0, 0)), fmt16(1, 1, 48000, 16), le("data", uint32(0xFFFFFFFF), body16))
	if d := wav.NewDecoder(bytes.NewReader(long)); d.FwdToPCM() != nil {
		repaired(t, "no error for RF64, which it cannot read")
	}
	compare(t, samples(t, mustRead(t, long)), want16)

	short := form("RIFF", fmt16(1, 1, 48000, 16), le("data", uint32(1000), body16))
	if _, data, err := full(short); err != nil || len(data) != 3 {
		repaired(t, "no error for a truncated file")
	}
	r := mustRead(t, short)
	compare(t, samples(t, r), want16)
	if w := strings.Join(r.Warnings(), "\n"); !strings.Contains(w, "truncated") {
		t.Errorf("ours: %q", w)
	}
}

// sipping is a source that returns three bytes a call.
type sipping struct{ *bytes.Reader }

func (s sipping) Read(p []byte) (int, error) { return s.Reader.Read(p[:min(3, len(p))]) }

func TestTrapShortReadsShift(t *testing.T) {
	b := form("RIFF", fmt16(1, 1, 48000, 16), chunk("data", le(int16(1), int16(2), int16(3), int16(4))))
	d := wav.NewDecoder(sipping{bytes.NewReader(b)})
	var data []int
	for len(data) < 4 {
		buf := &audio.IntBuffer{Data: make([]int, 4)}
		n, err := d.PCMBuffer(buf)
		if n == 0 || err != nil {
			break
		}
		data = append(data, buf.Data[:n]...)
	}
	if len(data) == 4 && data[1] == 2 && data[2] == 3 {
		repaired(t, "samples shifted by short reads")
	}
	r, err := NewReader(flaky{b: b, step: 3}, int64(len(b)), "short.wav")
	if err != nil {
		t.Fatal(err)
	}
	compare(t, samples(t, r), [][]float64{{1.0 / 32768, 2.0 / 32768, 3.0 / 32768, 4.0 / 32768}})
}

// memory is a file in memory for the library's encoder.
type memory struct {
	b  []byte
	at int64
}

func (m *memory) Write(p []byte) (int, error) {
	if need := m.at + int64(len(p)); need > int64(len(m.b)) {
		m.b = append(m.b, make([]byte, need-int64(len(m.b)))...)
	}
	m.at += int64(copy(m.b[m.at:], p))
	return len(p), nil
}

func (m *memory) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekStart:
		m.at = offset
	case io.SeekEnd:
		m.at = int64(len(m.b)) + offset
	default:
		return 0, errors.New("not needed")
	}
	return m.at, nil
}

// encode makes a file with the library.
func encode(t *testing.T, channels, bits, tag int, prepare func(*wav.Encoder), data ...int) []byte {
	t.Helper()
	var m memory
	e := wav.NewEncoder(&m, 48000, bits, channels, tag)
	if err := e.Write(&audio.IntBuffer{Format: &audio.Format{NumChannels: channels, SampleRate: 48000}, Data: data, SourceBitDepth: bits}); err != nil {
		t.Fatal(err)
	}
	if prepare != nil {
		prepare(e)
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	return m.b
}

func TestTrapEncoder(t *testing.T) {
	if b := encode(t, 1, 16, 1, nil, 40000); !bytes.HasSuffix(b, le(uint16(40000))) {
		repaired(t, "samples out of range wrapped round")
	}
	if b := encode(t, 1, 8, 1, nil, 128, 129, 130); len(b)%2 == 0 {
		repaired(t, "an odd data chunk without its pad byte")
	}
	if b := encode(t, 1, 32, 3, nil, 1); !bytes.HasSuffix(b, le(uint32(1))) {
		repaired(t, "integers stored under the tag of floats")
	}
	past4GiB := int64(1) << 32
	past := encode(t, 1, 16, 1, func(e *wav.Encoder) { e.WrittenBytes += int(past4GiB) }, 1)
	if !bytes.HasPrefix(past, le("RIFF", uint32(len(past)-8))) {
		repaired(t, "a form size past 4 GiB wrapped round")
	}
	func() {
		defer func() {
			if recover() == nil {
				repaired(t, "a panic at sampling rate 0")
			}
		}()
		wav.NewEncoder(&memory{}, 0, 16, 1, 1)
	}()
	// Ours: TestClip, TestHeaderLayout, TestRoundTrip, TestRF64 and
	// TestCreateRefusals hold for the same.
}

// TestTrapInfoWithoutPad: the encoder does not pad texts of odd length, so that
// the decoder misses what follows, and takes text for a size: the first letter of
// the title for the number of 16 MiB to allocate.
func TestTrapInfoWithoutPad(t *testing.T) {
	const title = "\x01title"
	b := encode(t, 1, 16, 1, func(e *wav.Encoder) { e.Metadata = &wav.Metadata{Artist: "even", Title: title} }, 1)
	d := wav.NewDecoder(bytes.NewReader(b))
	d.ReadMetadata()
	if d.Metadata != nil && d.Metadata.Title == title {
		repaired(t, "a text of odd length left without its pad byte")
	}
	r := mustRead(t, write(t, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{Info: Info{Artist: "even", Title: "title"}}))
	if r.Info().Artist != "even" || r.Info().Title != "title" {
		t.Errorf("ours: %+v", r.Info())
	}
}

// TestTrapHalfHeader: the parser ignores that a chunk header ends after its
// identifier.
func TestTrapHalfHeader(t *testing.T) {
	if id, size, err := riff.New(strings.NewReader("data")).IDnSize(); err != nil || size != 0 || id != riff.DataFormatID {
		repaired(t, "a chunk header without a size accepted")
	}
	b := append(form("RIFF", fmt16(1, 1, 48000, 16)), "data"...)
	_, err := readBytes(b)
	fault(t, err, int64(len(b)))
}
