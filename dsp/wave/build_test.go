package wave

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// The builders below lay files out by hand, so that tests do not lean on the
// Writer.

// le stores values one after another, little-endian; strings and bytes as they
// are.
func le(values ...any) []byte {
	var b bytes.Buffer
	for _, v := range values {
		if s, ok := v.(string); ok {
			v = []byte(s)
		}
		if err := binary.Write(&b, binary.LittleEndian, v); err != nil {
			panic(err)
		}
	}
	return b.Bytes()
}

// chunk is a chunk with its pad byte.
func chunk(id string, body []byte) []byte {
	b := le(id, uint32(len(body)), body)
	if len(body)%2 != 0 {
		b = append(b, 0)
	}
	return b
}

// form is a whole file of the chunks given.
func form(id string, chunks ...[]byte) []byte {
	body := bytes.Join(chunks, nil)
	return le(id, uint32(len(body)+4), "WAVE", body)
}

// fmt16 is a PCMWAVEFORMAT chunk.
func fmt16(tag uint16, channels, rate, bits int) []byte {
	align := channels * ((bits + 7) / 8)
	return chunk("fmt ", le(tag, uint16(channels), uint32(rate), uint32(rate*align), uint16(align), uint16(bits)))
}

// fmt40 is a WAVEFORMATEXTENSIBLE chunk.
func fmt40(channels, rate, bits, valid int, mask uint32, sub []byte) []byte {
	align := channels * bits / 8
	return chunk("fmt ", le(uint16(0xFFFE), uint16(channels), uint32(rate), uint32(rate*align), uint16(align), uint16(bits),
		uint16(22), uint16(valid), mask, sub))
}

// subFormat is the identifier KSDATAFORMAT_SUBTYPE of a tag, as stored.
func subFormat(tag uint16) []byte {
	return le(tag, uint16(0), uint16(0), uint16(0x10), []byte{0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71})
}

// readBytes opens a file held in memory.
func readBytes(b []byte) (*Reader, error) {
	return NewReader(bytes.NewReader(b), int64(len(b)), "memory.wav")
}

func mustRead(t *testing.T, b []byte) *Reader {
	t.Helper()
	r, err := readBytes(b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// samples reads everything in one call.
func samples(t *testing.T, r *Reader) [][]float64 {
	t.Helper()
	block := planes(r.Format().Channels, int(r.Frames()))
	n, err := r.Read(block)
	if int64(n) != r.Frames() || err != nil {
		t.Fatalf("read %d of %d frames: %v", n, r.Frames(), err)
	}
	if n, err := r.Read(planes(r.Format().Channels, 1)); n != 0 || err != io.EOF {
		t.Fatalf("after the last frame: %d, %v; want 0, EOF", n, err)
	}
	return block
}

func planes(channels, frames int) [][]float64 {
	block := make([][]float64, channels)
	for c := range block {
		block[c] = make([]float64, frames)
	}
	return block
}

// cut returns frames [from:to) of block.
func cut(block [][]float64, from, to int) [][]float64 {
	part := make([][]float64, len(block))
	for c := range block {
		part[c] = block[c][from:to]
	}
	return part
}

// write makes a file and returns its bytes.
func write(t *testing.T, f Format, o Options, blocks ...[][]float64) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "out.wav")
	writeFile(t, path, f, o, blocks...)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func writeFile(t *testing.T, path string, f Format, o Options, blocks ...[][]float64) {
	t.Helper()
	w, err := Create(path, f, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range blocks {
		if err := w.Write(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// grid returns random samples that lie on the grid of the format's integers,
// both ends included, or floats that the format holds exactly.
func grid(rng *rand.Rand, f Format, frames int) [][]float64 {
	block := planes(f.Channels, frames)
	for c := range block {
		for i := range block[c] {
			block[c][i] = gridSample(rng, f)
		}
		if f.Encoding == PCM && frames > 1 {
			block[c][0], block[c][1] = -1, 1-2/float64(uint64(1)<<f.ValidBits)
		}
	}
	return block
}

func gridSample(rng *rand.Rand, f Format) float64 {
	switch {
	case f.Encoding == PCM:
		return float64(int64(rng.Uint64())>>(64-f.ValidBits)) / float64(uint64(1)<<(f.ValidBits-1))
	case f.Bits == 32:
		return float64(float32(rng.NormFloat64()))
	}
	return rng.NormFloat64()
}

// fault asserts that err is an *Error of the offset given and that its text is
// complete.
func fault(t *testing.T, err error, offset int64) *Error {
	t.Helper()
	var e *Error
	switch {
	case !errors.As(err, &e):
		t.Fatalf("error is %v (%T); want *Error", err, err)
	case e.Offset != offset:
		t.Errorf("%v: offset %d; want %d", e, e.Offset, offset)
	case e.Path == "" || e.Found == "" || e.Legal == "" && e.Err == nil:
		t.Errorf("%#v: path, finding, and legal values or cause must be there", e)
	}
	return e
}
