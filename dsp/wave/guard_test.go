package wave

import (
	"bytes"
	"strings"
	"testing"
)

// body16 is three frames of 16-bit mono.
var body16 = le(int16(1000), int16(-2000), int16(3000))

var want16 = [][]float64{{1000.0 / 32768, -2000.0 / 32768, 3000.0 / 32768}}

// TestLegalStructures reads files that the specifications allow and writers
// make, each with its number of warnings.
func TestLegalStructures(t *testing.T) {
	mono := fmt16(1, 1, 48000, 16)
	data := chunk("data", body16)
	odd := chunk("bext", []byte("odd"))
	ds64 := func(riff, data, count uint64, table ...any) []byte {
		return chunk("ds64", append(le(riff, data, count, uint32(len(table)/2)), le(table...)...))
	}
	long := le("data", uint32(0xFFFFFFFF), body16)
	size := func(b []byte, n uint32) []byte { return bytes.Replace(b, b[4:8], le(n), 1) }
	cases := []struct {
		name     string
		file     []byte
		warnings []string // parts of each
	}{
		{"plain", form("RIFF", mono, data), nil},
		{"metadata before fmt", form("RIFF", odd, mono, data), nil},
		{"metadata between", form("RIFF", mono, odd, chunk("LIST", []byte("adtl")), data), nil},
		{"metadata after", form("RIFF", mono, data, odd, chunk("id3 ", []byte("ID3"))), nil},
		{"empty chunks", form("RIFF", chunk("JUNK", nil), mono, chunk("FLLR", nil), data), nil},
		{"fmt after data", form("RIFF", data, mono), []string{"fmt chunk after the data chunk"}},
		{"WAVEFORMAT of 14 bytes", form("RIFF", chunk("fmt ", mono[8:22]), data), nil},
		{"WAVEFORMATEX of 18 bytes", form("RIFF", chunk("fmt ", append(mono[8:24:24], 0, 0)), data), nil},
		{"EXTENSIBLE of 40 bytes", form("RIFF", fmt40(1, 48000, 16, 16, 4, subFormat(1)), data), nil},
		{"EXTENSIBLE without valid bits", form("RIFF", fmt40(1, 48000, 16, 0, 4, subFormat(1)), data), []string{"0 valid bits"}},
		{"mask of too many positions", form("RIFF", fmt40(1, 48000, 16, 16, 3, subFormat(1)), data), []string{"more than 1 channels: position 0x2 is ignored"}},
		{"form size never filled in", size(form("RIFF", mono, data), 0xFFFFFFFF), []string{"form was never filled in"}},
		{"wrong byte rate", form("RIFF", chunk("fmt ", le(uint16(1), uint16(1), uint32(48000), uint32(7), uint16(2), uint16(16))), data), []string{"byte rate 7"}},
		{"no pad byte at the end", form("RIFF", mono, data, odd)[:12+24+14+11], nil},
		{"no pad byte before data", form("RIFF", mono, odd[:11], data), []string{"pad byte missing"}},
		{"streamed, both sizes unknown", size(form("RIFF", mono, long), 0xFFFFFFFF), []string{"0xffffffff was never filled in"}},
		{"streamed, both sizes zero", size(form("RIFF", mono, le("data", uint32(0), body16)), 0), []string{"never filled in"}},
		{"streamed, form ends at the data", size(form("RIFF", mono, le("data", uint32(0), body16)), 36), []string{"never filled in"}},
		{"streamed, half the range", size(form("RIFF", mono, le("data", uint32(0x7FFFF000), body16)), 0x7FFFF024), []string{"0x7ffff000 was never filled in"}},
		{"streamed, just under the range", size(form("RIFF", mono, le("data", uint32(0xFFFFFFFF-36), body16)), 0xFFFFFFFF), []string{"0xffffffdb was never filled in"}},
		{"truncated by one byte", form("RIFF", mono, le("data", uint32(7), body16)), []string{"declares 7 bytes and the file holds 6"}},
		{"truncated from 3 GiB", form("RIFF", mono, le("data", uint32(3<<30), body16)), []string{"declares 3221225472 bytes"}},
		{"truncated", size(form("RIFF", mono, le("data", uint32(1000), body16)), 1036), []string{"declares 1000 bytes and the file holds 6"}},
		{"form too long", size(form("RIFF", mono, data), 99), []string{"form declares 99 bytes and the file holds 42"}},
		{"form too short", size(form("RIFF", mono, data), 37), []string{"37 bytes, which end within the audio"}},
		{"rubbish after the form", append(form("RIFF", mono, data), "\x00\x01\x02\x03\x04\x05\x06\x07\x08"...), []string{"chunk identifier", "ignored"}},
		{"few bytes after the form", append(form("RIFF", mono, data), 1, 2, 3), []string{"3 bytes after the last chunk"}},
		{"truncated metadata", form("RIFF", mono, data, le("LIST", uint32(1000), "INFO")), []string{`"LIST" of 1000 bytes`}},
		{"RF64", form("RF64", ds64(78, 6, 3), mono, long), nil},
		{"BW64", form("BW64", ds64(78, 6, 3), mono, long), nil},
		{"RF64 with a 32-bit data size", form("RF64", ds64(0, 0, 0), mono, data), nil},
		{"RF64 with a table", form("RF64", ds64(98, 6, 3, "LONG", uint64(4)), mono, le("LONG", uint32(0xFFFFFFFF), "rest"), long), nil},
		{"RF64, streamed", form("RF64", ds64(0, 0, 0), mono, long), []string{"never filled in"}},
		{"BW64, streamed", form("BW64", ds64(1<<64-1, 1<<64-1, 0), mono, long), []string{"never filled in"}},
		{"RF64, truncated", form("RF64", ds64(1<<40, 1<<40, 0), mono, long), []string{"declares 1099511627776 bytes and the file holds 6"}},
		{"ds64 in RIFF", form("RIFF", ds64(0, 0, 0), mono, data), []string{"ds64 chunk in a RIFF file"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r, err := readBytes(c.file)
			if err != nil {
				t.Fatal(err)
			}
			compare(t, samples(t, r), want16)
			got := strings.Join(r.Warnings(), "\n")
			if (len(c.warnings) == 0) != (got == "") {
				t.Errorf("warnings %q; want %q", got, c.warnings)
			}
			for _, part := range c.warnings {
				if !strings.Contains(got, part) {
					t.Errorf("warnings %q; want %q in them", got, part)
				}
			}
			for _, w := range r.Warnings() {
				if !strings.HasPrefix(w, "byte ") {
					t.Errorf("warning %q has no offset", w)
				}
			}
		})
	}
}

// TestSpecificationExamples are the three example files in "Multimedia
// Programming Interface and Data Specifications 1.0" (IBM and Microsoft, 1991),
// section "Examples of WAVE Files".
func TestSpecificationExamples(t *testing.T) {
	raw := func(fields ...any) []byte { return chunk("fmt ", le(fields...)) }
	list := chunk("LIST", append([]byte("INFO"), chunk("INAM", []byte("O Canada\x00"))...))
	for _, c := range []struct {
		file []byte
		want Format
	}{
		{
			form("RIFF", raw(uint16(1), uint16(1), uint32(11025), uint32(11025), uint16(1), uint16(8)), chunk("data", []byte{128, 0})),
			Format{Rate: 11025, Channels: 1, Bits: 8, ValidBits: 8},
		},
		{
			form("RIFF", raw(uint16(1), uint16(2), uint32(22050), uint32(44100), uint16(2), uint16(8)), chunk("data", []byte{128, 0})),
			Format{Rate: 22050, Channels: 2, Bits: 8, ValidBits: 8},
		},
		{
			form("RIFF", list, raw(uint16(1), uint16(1), uint32(44100), uint32(132300), uint16(3), uint16(20)), chunk("data", []byte{0, 0, 0x40})),
			Format{Rate: 44100, Channels: 1, Bits: 24, ValidBits: 20},
		},
	} {
		r := mustRead(t, c.file)
		if r.Format() != c.want || len(r.Warnings()) != 0 {
			t.Errorf("%+v, %q; want %+v", r.Format(), r.Warnings(), c.want)
		}
		if c.want.ValidBits == 20 {
			// Samples sit in the upper bits of their container.
			if x := samples(t, r)[0][0]; x != 0.5 {
				t.Errorf("20-bit sample is %v; want 0.5", x)
			}
			if r.Info().Title != "O Canada" {
				t.Errorf("title %q", r.Info().Title)
			}
		}
	}
}

// TestPadIsNoSample: the byte after an odd data chunk belongs to no frame.
func TestPadIsNoSample(t *testing.T) {
	r := mustRead(t, form("RIFF", fmt16(1, 1, 8000, 8), chunk("data", []byte{128, 192, 64})))
	compare(t, samples(t, r), [][]float64{{0, 0.5, -0.5}})
}

// TestPartialFrame reports the bytes of a frame that has no end.
func TestPartialFrame(t *testing.T) {
	r := mustRead(t, form("RIFF", fmt16(1, 2, 48000, 16), chunk("data", make([]byte, 4*7+3))))
	if w := strings.Join(r.Warnings(), "\n"); r.Frames() != 7 || !strings.Contains(w, "byte 72: the audio ends with 3 bytes") {
		t.Errorf("%d frames, %q; want 7 and the offset 72", r.Frames(), w)
	}
}

// TestNoAudio: an empty file is legal and ends at once.
func TestNoAudio(t *testing.T) {
	for _, b := range [][]byte{
		form("RIFF", fmt16(1, 1, 48000, 16), chunk("data", nil)),
		form("RIFF", fmt16(1, 1, 48000, 16), chunk("data", nil), chunk("LIST", []byte("INFO"))),
		write(t, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{}),
	} {
		r := mustRead(t, b)
		if r.Frames() != 0 || len(r.Warnings()) != 0 {
			t.Errorf("%d frames, %q; want none", r.Frames(), r.Warnings())
		}
		samples(t, r)
	}
}

// TestZeroSize: in a form whose own size is right, a data chunk of size 0 is
// empty if chunks follow, and a streaming writer's if not.
func TestZeroSize(t *testing.T) {
	mono := fmt16(1, 1, 48000, 16)
	audio := bytes.Repeat(body16, 4)
	r := mustRead(t, form("RIFF", mono, le("data", uint32(0), audio)))
	if w := strings.Join(r.Warnings(), "\n"); r.Frames() != 12 || !strings.Contains(w, "never filled in") {
		t.Errorf("audio follows: %d frames, %q; want 12 and a warning", r.Frames(), w)
	}
	r = mustRead(t, form("RIFF", mono, chunk("data", nil), []byte("five.")))
	if w := strings.Join(r.Warnings(), "\n"); r.Frames() != 0 || !strings.Contains(w, "5 bytes after the last chunk") {
		t.Errorf("too little for a chunk follows: %d frames, %q; want 0 and a warning", r.Frames(), w)
	}
	r = mustRead(t, form("RIFF", mono, chunk("data", nil), chunk("LIST", audio)))
	if r.Frames() != 0 || len(r.Warnings()) != 0 {
		t.Errorf("a chunk follows: %d frames, %q; want 0", r.Frames(), r.Warnings())
	}
}

// TestSurplusMask: of more positions than channels the lowest are kept, for
// channels are stored in the order of their bits.
func TestSurplusMask(t *testing.T) {
	r := mustRead(t, form("RIFF", fmt40(2, 48000, 16, 16, 0x8000003C, subFormat(1)), chunk("data", nil)))
	if m := r.Format().ChannelMask; m != 0xC || len(r.Warnings()) != 3 {
		t.Errorf("mask %#x, %q; want 0xc and three warnings", m, r.Warnings())
	}
}
