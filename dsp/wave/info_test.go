package wave

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

// TestInfo: text survives the trip, whatever its length's parity, and shifts no
// sample.
func TestInfo(t *testing.T) {
	want := Info{Title: "odd", Artist: "even", Copyright: "© CC0", Comment: strings.Repeat("x", 8192), Software: "s"}
	signal := ramp(2, 10)
	b := write(t, Format{Rate: 48000, Channels: 2, Bits: 16}, Options{Info: want, NoDither: true}, signal)
	r := mustRead(t, b)
	if r.Info() != want || len(r.Warnings()) != 0 {
		t.Errorf("%+v, %q; want %+v", r.Info(), r.Warnings(), want)
	}
	compare(t, samples(t, r), signal)
	for _, bad := range []Info{{Title: "a\x00b"}, {Comment: strings.Repeat("x", 8193)}} {
		if _, err := Create(filepath.Join(t.TempDir(), "out.wav"), stereo24, Options{Info: bad}); err == nil {
			t.Errorf("Info %.20q is accepted", bad)
		}
	}
}

// TestInfoLayout is the LIST chunk of "Multimedia Programming Interface and Data
// Specifications 1.0" (IBM and Microsoft, 1991): ZSTR texts in chunks that are
// padded to an even length.
func TestInfoLayout(t *testing.T) {
	got := Info{Title: "ab", Software: "abc"}.chunk()
	want := le("LIST", uint32(28), "INFO", "INAM", uint32(3), "ab\x00\x00", "ISFT", uint32(4), "abc\x00")
	if !bytes.Equal(got, want) {
		t.Errorf("% x; want % x", got, want)
	}
	if len(Info{}.chunk()) != 0 {
		t.Error("empty Info makes a chunk")
	}
}

// TestInfoOfOthers: unusual but legal lists are read, faulty ones cost a
// warning and no audio.
func TestInfoOfOthers(t *testing.T) {
	list := func(body ...any) []byte { return chunk("LIST", le(append([]any{"INFO"}, body...)...)) }
	for name, c := range map[string]struct {
		list    []byte
		title   string
		warning bool
	}{
		"control characters": {list("INAM", uint32(9), "a\x1b[2J\n\xff\x07\x00\x00"), "a [2J \uFFFD", false},
		"format characters":  {list("INAM", uint32(9), "a\u202Eb\u200Bc"), "a b c", false},
		"long":               {list("INAM", uint32(16384), strings.Repeat("é", 8192)), strings.Repeat("é", 4096), false},
		"long, rune cut":     {list("INAM", uint32(16384), "a"+strings.Repeat("é", 8191)+"x"), "a" + strings.Repeat("é", 4095), false},
		"no zero byte":       {list("INAM", uint32(4), "name"), "name", false},
		"empty":              {list(), "", false},
		"unknown entries":    {list("IXYZ", uint32(1), "q\x00", "INAM", uint32(2), "n\x00"), "n", false},
		"trailing bytes":     {list("INAM", uint32(2), "n\x00", "xyz"), "n", false},
		"entry too long":     {list("INAM", uint32(100), "name"), "", true},
		"too long":           {list("INAM", uint32(70000), make([]byte, 70000)), "", true},
	} {
		r := mustRead(t, form("RIFF", fmt16(1, 1, 48000, 16), c.list, chunk("data", body16)))
		if r.Info().Title != c.title || c.warning != (len(r.Warnings()) != 0) {
			t.Errorf("%s: title %q, warnings %q; want %q", name, r.Info().Title, r.Warnings(), c.title)
		}
		compare(t, samples(t, r), want16)
	}
}
