package wave

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
)

// ramp is a short signal on the 16-bit grid.
func ramp(channels, frames int) [][]float64 {
	block := planes(channels, frames)
	for c := range block {
		for i := range block[c] {
			block[c][i] = float64(i-frames/2+100*c) / 32768
		}
	}
	return block
}

// TestHeaderLayout compares whole headers with layouts written out by hand from
// the specifications: the RIFF form, fmt, fact and data chunks of "Multimedia
// Programming Interface and Data Specifications 1.0" (IBM and Microsoft, 1991);
// WAVEFORMATEXTENSIBLE of "Multiple Channel Audio Data and WAVE Files"
// (Microsoft, 2001); the JUNK chunk reserved for ds64 of EBU Tech 3306 (2007),
// section 3.5 and annex A.
func TestHeaderLayout(t *testing.T) {
	junk := le("JUNK", uint32(28), make([]byte, 28))
	cases := []struct {
		name   string
		format Format
		frames int
		want   []byte // after the 12 bytes of the form, before the samples
	}{
		{
			"16-bit mono",
			Format{Rate: 44100, Channels: 1, Bits: 16},
			5,
			le(junk,
				"fmt ", uint32(16), uint16(1), uint16(1), uint32(44100), uint32(88200), uint16(2), uint16(16),
				"data", uint32(10)),
		},
		{
			"8-bit mono, odd",
			Format{Rate: 8000, Channels: 1, Bits: 8},
			5,
			le(junk,
				"fmt ", uint32(16), uint16(1), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8),
				"data", uint32(5)),
		},
		{
			"float stereo",
			Format{Rate: 96000, Channels: 2, Encoding: Float, Bits: 32},
			5,
			le(junk,
				"fmt ", uint32(18), uint16(3), uint16(2), uint32(96000), uint32(768000), uint16(8), uint16(32), uint16(0),
				"fact", uint32(4), uint32(5),
				"data", uint32(40)),
		},
		{
			"24-bit stereo",
			Format{Rate: 48000, Channels: 2, Bits: 24},
			5,
			le(junk,
				"fmt ", uint32(40), uint16(0xFFFE), uint16(2), uint32(48000), uint32(288000), uint16(6), uint16(24),
				uint16(22), uint16(24), uint32(3), // front left and right
				uint32(1), uint16(0), uint16(0x10), []byte{0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71},
				"fact", uint32(4), uint32(5),
				"data", uint32(30)),
		},
		{
			"20-in-24-bit 5.1",
			Format{Rate: 48000, Channels: 6, Bits: 24, ValidBits: 20, ChannelMask: 0x3F},
			5,
			le(junk,
				"fmt ", uint32(40), uint16(0xFFFE), uint16(6), uint32(48000), uint32(864000), uint16(18), uint16(24),
				uint16(22), uint16(20), uint32(0x3F),
				uint32(1), uint16(0), uint16(0x10), []byte{0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71},
				"fact", uint32(4), uint32(5),
				"data", uint32(90)),
		},
		{
			"float of 4 channels",
			Format{Rate: 48000, Channels: 4, Encoding: Float, Bits: 32},
			5,
			le(junk,
				"fmt ", uint32(40), uint16(0xFFFE), uint16(4), uint32(48000), uint32(768000), uint16(16), uint16(32),
				uint16(22), uint16(32), uint32(0), // no positions assigned
				uint32(3), uint16(0), uint16(0x10), []byte{0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71},
				"fact", uint32(4), uint32(5),
				"data", uint32(80)),
		},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := write(t, c.format, Options{NoDither: true}, ramp(c.format.Channels, c.frames))
			if len(got)%2 != 0 {
				t.Errorf("file of %d bytes; chunks are padded to even lengths", len(got))
			}
			want := append(le("RIFF", uint32(len(got)-8), "WAVE"), c.want...)
			if !bytes.HasPrefix(got, want) {
				t.Errorf("header\n% x\nwant\n% x", got[:min(len(got), len(want))], want)
			}
			body := c.frames * c.format.frameBytes()
			if rest := len(got) - len(want); rest != body+body%2 {
				t.Errorf("%d bytes after the header; want %d", rest, body+body%2)
			}
			if body%2 != 0 && got[len(got)-1] != 0 {
				t.Errorf("pad byte is %d; want 0", got[len(got)-1])
			}
		})
	}
}

// TestExtensibleRules are the cases in which the header has to be EXTENSIBLE
// (Microsoft, "Multiple Channel Audio Data and WAVE Files").
func TestExtensibleRules(t *testing.T) {
	for _, c := range []struct {
		f    Format
		tag  uint16
		mask uint32
	}{
		{Format{Channels: 1, Bits: 16}, 1, 0},
		{Format{Channels: 2, Bits: 16}, 1, 0},
		{Format{Channels: 1, Bits: 8}, 1, 0},
		{Format{Channels: 3, Bits: 16}, 0xFFFE, 0},
		{Format{Channels: 1, Bits: 24}, 0xFFFE, 4},
		{Format{Channels: 2, Bits: 32}, 0xFFFE, 3},
		{Format{Channels: 2, Bits: 16, ValidBits: 14}, 0xFFFE, 3},
		{Format{Channels: 2, Bits: 16, ChannelMask: 0x30}, 0xFFFE, 0x30},
		{Format{Channels: 2, Bits: 16, Extensible: true}, 0xFFFE, 0},
		{Format{Channels: 2, Bits: 32, Encoding: Float}, 3, 0},
		{Format{Channels: 1, Bits: 64, Encoding: Float}, 3, 0},
		{Format{Channels: 8, Bits: 64, Encoding: Float, ChannelMask: 0xFF}, 0xFFFE, 0xFF},
	} {
		c.f.Rate = 48000
		b := write(t, c.f, Options{}, planes(c.f.Channels, 1))
		const fmtAt = 12 + 36 + 8 // after the form header and the reserved chunk
		if tag := binary.LittleEndian.Uint16(b[fmtAt:]); tag != c.tag {
			t.Errorf("%+v: tag %#x; want %#x", c.f, tag, c.tag)
		}
		if g := mustRead(t, b).Format(); g.ChannelMask != c.mask || g.Extensible != (c.tag == 0xFFFE) {
			t.Errorf("%+v: read back as %+v; want mask %#x", c.f, g, c.mask)
		}
	}
}

// TestRF64 makes the form grow past an injected limit. The layout is that of
// EBU Tech 3306 (2007), annex A.2: RF64 with size -1; ds64 of 28 bytes with the
// form size, the data size, the sample count and an empty table, in the place
// of JUNK; data with size -1.
func TestRF64(t *testing.T) {
	for _, f := range []Format{
		{Rate: 48000, Channels: 1, Bits: 16, ValidBits: 16},
		{Rate: 8000, Channels: 1, Bits: 8, ValidBits: 8},
		{Rate: 48000, Channels: 2, Encoding: Float, Bits: 32, ValidBits: 32},
		{Rate: 48000, Channels: 3, Bits: 24, ValidBits: 24},
	} {
		want := ramp(f.Channels, 1001)
		path := filepath.Join(t.TempDir(), "long.wav")
		w, err := Create(path, f, Options{NoDither: true})
		if err != nil {
			t.Fatal(err)
		}
		w.header.limit = 1000
		if err := w.Write(want); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		body := 1001 * f.frameBytes()
		head := le("RF64", uint32(0xFFFFFFFF), "WAVE", "ds64", uint32(28), uint64(len(b)-8), uint64(body), uint64(1001), uint32(0), "fmt ")
		if !bytes.HasPrefix(b, head) {
			t.Errorf("%v: header\n% x\nwant\n% x", f, b[:len(head)], head)
		}
		if at := len(b) - body - body%2 - 8; !bytes.Equal(b[at:at+8], le("data", uint32(0xFFFFFFFF))) {
			t.Errorf("%v: data header % x", f, b[at:at+8])
		}
		r := mustRead(t, b)
		if len(r.Warnings()) != 0 {
			t.Errorf("%v: %q", f, r.Warnings())
		}
		if f.Bits > 8 {
			compare(t, samples(t, r), want)
		}
	}
}

// TestRIFFLimit moves the file length across the injected limit byte by byte:
// RIFF up to it, RF64 above.
func TestRIFFLimit(t *testing.T) {
	f := Format{Rate: 8000, Channels: 1, Bits: 8, ValidBits: 8}
	for room := range int64(24) {
		for frames := range int64(30) {
			h := header{format: f, frames: frames, content: frames}
			h.limit = h.length() - 8 + room
			want := "RIFF"
			if frames+frames%2 > room { // the pad byte counts
				want = "RF64"
			}
			if b := h.bytes(); string(b[:4]) != want || int64(len(b)) != h.length() {
				t.Errorf("%d frames, room for %d: %s of %d bytes; want %s of %d", frames, room, b[:4], len(b), want, h.length())
			}
		}
	}
	// The largest size of RIFF itself: 0xFFFFFFFF is kept for "unknown".
	h := header{format: f, limit: maxRIFFSize}
	h.content = 1<<32 - 2 - h.length() + 8
	if b := h.bytes(); string(b[:4]) != "RIFF" || binary.LittleEndian.Uint32(b[4:]) != 0xFFFFFFFE {
		t.Errorf("largest RIFF: %s with size %#x", b[:4], binary.LittleEndian.Uint32(b[4:]))
	}
	h.content++
	if b := h.bytes(); string(b[:4]) != "RF64" {
		t.Errorf("one byte more: %s", b[:4])
	}
}

// TestPast4GiB writes a real file of more than 4 GiB, whose middle is a hole,
// and reads its ends back.
func TestPast4GiB(t *testing.T) {
	f := Format{Rate: 48000, Channels: 2, Bits: 16, ValidBits: 16}
	path := filepath.Join(t.TempDir(), "sparse.wav")
	w, err := Create(path, f, Options{NoDither: true})
	if err != nil {
		t.Fatal(err)
	}
	edge := ramp(2, 500)
	if err := w.Write(edge); err != nil {
		t.Fatal(err)
	}
	leap(t, w, 1<<30) // frames, which are 4 GiB
	if err := w.Write(edge); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if want := int64(1<<30 + 1000); r.Frames() != want || len(r.Warnings()) != 0 {
		t.Errorf("%d frames, %q; want %d", r.Frames(), r.Warnings(), want)
	}
	for _, at := range []int64{0, 1<<30 + 500} {
		if err := r.SeekFrame(at); err != nil {
			t.Fatal(err)
		}
		got := planes(2, 500)
		if n, err := r.Read(got); n != 500 || err != nil {
			t.Fatal(n, err)
		}
		compare(t, got, edge)
	}
	if _, _, err := ReadFile(path); err == nil {
		t.Error("ReadFile holds a file of 4 GiB")
	}
}

// leap makes a Writer skip frames, which leaves a hole of zeros in the file.
func leap(t *testing.T, w *Writer, frames int64) {
	t.Helper()
	w.flush()
	n := frames * int64(w.header.format.frameBytes())
	if _, err := w.file.(*os.File).Seek(n, 1); err != nil || w.err != nil {
		t.Fatal(err, w.err)
	}
	w.header.frames += frames
	w.header.content += n
}
