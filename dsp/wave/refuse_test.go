package wave

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestRefusals are files that must not be read: where the fault lies and what
// the message has to name.
func TestRefusals(t *testing.T) {
	mono := fmt16(1, 1, 48000, 16)
	data := chunk("data", body16)
	fields := func(values ...any) []byte { return form("RIFF", chunk("fmt ", le(values...)), data) }
	ambisonic := le(uint32(1), uint16(0x0721), uint16(0x11D3), []byte{0x86, 0x44, 0xC8, 0xC1, 0xCA, 0, 0, 0})
	ext := fmt40(1, 48000, 16, 16, 4, subFormat(1))
	ds64 := chunk("ds64", make([]byte, 28))
	cases := []struct {
		name   string
		file   []byte
		offset int64
		found  string
	}{
		{"empty", nil, 0, "0 bytes"},
		{"eleven bytes", []byte("RIFF\x04\x00\x00\x00WAV"), 0, "11 bytes"},
		{"big-endian", form("RIFX", mono, data), 0, "big-endian"},
		{"FLAC", []byte("fLaC\x00\x00\x00\x22\x10\x00\x10\x00"), 0, "FLAC"},
		{"AIFF", []byte("FORM\x00\x00\x00\x22AIFF"), 0, "AIFF"},
		{"Ogg", []byte("OggS\x00\x02\x00\x00\x00\x00\x00\x00"), 0, "Ogg"},
		{"MPEG with tag", []byte("ID3\x04\x00\x00\x00\x00\x00\x00\x00\x00"), 0, "MPEG"},
		{"MPEG", []byte("\xFF\xFB\x90\x00\x00\x00\x00\x00\x00\x00\x00\x00"), 0, "MPEG"},
		{"64-bit wave", []byte("riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb"), 0, "GUID"},
		{"other form", le("RIFF", uint32(4), "AVI "), 8, `"AVI "`},
		{"no chunks", form("RIFF"), 12, "without a fmt"},
		{"no fmt", form("RIFF", data), 26, "without a fmt"},
		{"no data", form("RIFF", mono), 36, "without a data"},
		{"two fmt", form("RIFF", mono, mono, data), 36, "second fmt"},
		{"two data", form("RIFF", mono, data, data), 50, "second data"},
		{"chunk past the end", form("RIFF", le("LIST", uint32(0xFFFFFFFE))), 16, "4294967294 bytes"},
		{"fmt past the end", form("RIFF", le("fmt ", uint32(16), uint16(1))), 16, "16 bytes"},
		{"broken identifier", form("RIFF", chunk("\x00\x01\x02\x03", nil), mono, data), 12, "identifier"},
		{"too many chunks", form("RIFF", bytes.Repeat(chunk("JUNK", nil), maxChunks), mono, data), 12 + 8*maxChunks, "more than 4096"},

		{"fmt of 12 bytes", form("RIFF", chunk("fmt ", mono[8:20]), data), 16, "12 bytes"},
		{"fmt of 64 KiB and more", form("RIFF", chunk("fmt ", append(mono[8:24:24], make([]byte, 1<<16+16)...)), data), 16, "65568 bytes"},
		{"no channels", fields(uint16(1), uint16(0), uint32(48000), uint32(0), uint16(2), uint16(16)), 22, "0 channels"},
		{"9 channels", fields(uint16(1), uint16(9), uint32(48000), uint32(864000), uint16(18), uint16(16)), 22, "9 channels"},
		{"65535 channels", fields(uint16(1), uint16(65535), uint32(48000), uint32(0), uint16(0), uint16(16)), 22, "65535 channels"},
		{"rate 0", fields(uint16(1), uint16(1), uint32(0), uint32(0), uint16(2), uint16(16)), 24, "0 Hz"},
		{"rate 7999", fields(uint16(1), uint16(1), uint32(7999), uint32(15998), uint16(2), uint16(16)), 24, "7999 Hz"},
		{"rate 384001", fields(uint16(1), uint16(1), uint32(384001), uint32(768002), uint16(2), uint16(16)), 24, "384001 Hz"},
		{"rate 4294967295", fields(uint16(1), uint16(1), uint32(0xFFFFFFFF), uint32(0), uint16(2), uint16(16)), 24, "4294967295 Hz"},
		{"frame of no bytes", fields(uint16(1), uint16(1), uint32(48000), uint32(0), uint16(0), uint16(16)), 32, "frames of 0 bytes"},
		{"frame too long", fields(uint16(1), uint16(1), uint32(48000), uint32(0), uint16(4), uint16(16)), 32, "frames of 4 bytes"},
		{"frame of no whole samples", fields(uint16(1), uint16(2), uint32(48000), uint32(0), uint16(5), uint16(16)), 32, "frames of 5 bytes"},
		{"0 bits", fields(uint16(1), uint16(1), uint32(48000), uint32(0), uint16(2), uint16(0)), 32, "0 bits"},
		{"4 bits", fields(uint16(1), uint16(1), uint32(48000), uint32(48000), uint16(1), uint16(4)), 34, "4 valid bits"},
		{"40 bits", fields(uint16(1), uint16(1), uint32(48000), uint32(240000), uint16(5), uint16(40)), 34, "40 bits"},
		{"65535 bits", fields(uint16(1), uint16(1), uint32(48000), uint32(0), uint16(8192), uint16(65535)), 34, "65536 bits"},
		{"float of 16 bits", fields(uint16(3), uint16(1), uint32(48000), uint32(96000), uint16(2), uint16(16)), 34, "float of 16"},
		{"float of 20 bits in 32", fields(uint16(3), uint16(1), uint32(48000), uint32(192000), uint16(4), uint16(26)), 34, "26 valid bits"},

		{"tag 0", fields(uint16(0), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8)), 20, "0x0000 (unknown)"},
		{"compressed, tag 2", fields(uint16(2), uint16(1), uint32(48000), uint32(24000), uint16(256), uint16(4)), 20, "0x0002 (a compressed format)"},
		{"compressed, tag 6", fields(uint16(6), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8)), 20, "0x0006 (a compressed format)"},
		{"compressed, tag 7", fields(uint16(7), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8)), 20, "0x0007 (a compressed format)"},
		{"compressed, tag 0x11", fields(uint16(0x11), uint16(1), uint32(8000), uint32(4000), uint16(256), uint16(4)), 20, "0x0011 (a compressed format)"},
		{"compressed, tag 0x31", fields(uint16(0x31), uint16(1), uint32(8000), uint32(1625), uint16(65), uint16(0)), 20, "0x0031 (a compressed format)"},
		{"compressed, tag 0x55", fields(uint16(0x55), uint16(2), uint32(44100), uint32(16000), uint16(1), uint16(0)), 20, "0x0055 (a compressed format)"},
		{"unknown tag", fields(uint16(0x1234), uint16(1), uint32(8000), uint32(8000), uint16(1), uint16(8)), 20, "0x1234 (a compressed format)"},

		{"EXTENSIBLE of 18 bytes", form("RIFF", chunk("fmt ", ext[8:26]), data), 16, "18 bytes with an extension of 22"},
		{"EXTENSIBLE, extension of 0", form("RIFF", chunk("fmt ", bytes.Replace(ext[8:], []byte{22, 0}, []byte{0, 0}, 1)), data), 16, "extension of 0"},
		{"compressed in EXTENSIBLE", form("RIFF", fmt40(1, 8000, 8, 8, 4, subFormat(6)), data), 44, "0x0006 (a compressed format)"},
		{"EXTENSIBLE in EXTENSIBLE", form("RIFF", fmt40(1, 8000, 8, 8, 4, subFormat(0xFFFE)), data), 44, "0xFFFE (EXTENSIBLE)"},
		{"ambisonic sub-format", form("RIFF", fmt40(4, 48000, 16, 16, 0, ambisonic), data), 44, "{00000001-0721-11D3-8644-C8C1CA000000}"},
		{"container of 20 bits", form("RIFF", chunk("fmt ", bytes.Replace(ext[8:], []byte{16, 0, 22, 0}, []byte{20, 0, 22, 0}, 1)), data), 34, "containers of 20 bits"},
		{"too many valid bits", form("RIFF", fmt40(1, 48000, 16, 17, 4, subFormat(1)), data), 34, "17 valid bits"},
		{"7 valid bits", form("RIFF", fmt40(1, 48000, 16, 7, 4, subFormat(1)), data), 34, "7 valid bits"},
		{"24 valid bits of a float", form("RIFF", fmt40(1, 48000, 32, 24, 4, subFormat(3)), data), 34, "24 valid bits in a float"},

		{"RF64 without ds64", form("RF64", mono, data), 12, `"fmt "`},
		{"RF64 with data first", form("RF64", data), 12, "data chunk"},
		{"ds64 not first", form("RF64", chunk("ds64", make([]byte, 28)), mono, ds64, data), 72, "ds64"},
		{"ds64 of 27 bytes", form("RF64", chunk("ds64", make([]byte, 27)), mono, data), 16, "27 bytes"},
		{"ds64 table too long", form("RF64", chunk("ds64", append(make([]byte, 24), 1, 0, 0, 0)), mono, data), 44, "1 entries"},
		{"ds64 table of 4 Gi entries", form("RF64", chunk("ds64", append(make([]byte, 24), 255, 255, 255, 255)), mono, data), 44, "4294967295 entries"},
		{"chunk missing in the table", form("RF64", ds64, le("LONG", uint32(0xFFFFFFFF)), mono, data), 52, `"LONG"`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := readBytes(c.file)
			if e := fault(t, err, c.offset); !strings.Contains(e.Found, c.found) {
				t.Errorf("found %q; want %q in it", e.Found, c.found)
			}
			if !strings.HasPrefix(err.Error(), "memory.wav: byte ") || !strings.Contains(err.Error(), "legal") {
				t.Errorf("text %q", err)
			}
		})
	}
}

// TestOpenRefusals are faults of the path, not of the content.
func TestOpenRefusals(t *testing.T) {
	dir := t.TempDir()
	if _, err := Open(filepath.Join(dir, "absent.wav")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("absent file: %v", err)
	}
	_, err := Open(dir)
	if e := fault(t, err, 0); !strings.Contains(e.Legal, "regular file") {
		t.Errorf("a folder: %v", err)
	}
	bad := filepath.Join(dir, "bad.wav")
	if err := os.WriteFile(bad, []byte("not a wave file at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = Open(bad)
	if e := fault(t, err, 0); e.Path != bad {
		t.Errorf("path %q; want %q", e.Path, bad)
	}
	if _, _, err := ReadFile(bad); err == nil {
		t.Error("ReadFile accepts it")
	}
}

// flaky is a source with faults: at most step bytes a call, without an error,
// and an error of its own from offset broken on.
type flaky struct {
	b      []byte
	step   int
	broken int64
}

var errBroken = errors.New("bad sector")

func (f flaky) ReadAt(p []byte, at int64) (int, error) {
	if f.broken > 0 && at >= f.broken {
		return 0, errBroken
	}
	n := min(len(p), f.step)
	if f.broken > 0 {
		n = min(n, int(f.broken-at))
	}
	if at >= int64(len(f.b)) {
		return 0, io.EOF
	}
	n = copy(p[:n], f.b[at:])
	return n, nil
}

// TestShortReads: a source that returns less than asked never shifts samples.
func TestShortReads(t *testing.T) {
	f := Format{Rate: 48000, Channels: 3, Bits: 24, ValidBits: 24}
	want := ramp(3, 20000)
	b := write(t, f, Options{NoDither: true}, want)
	for _, step := range []int{1, 2, 7, 4096, 65537} {
		r, err := NewReader(flaky{b: b, step: step}, int64(len(b)), "short.wav")
		if err != nil {
			t.Fatal(err)
		}
		compare(t, inBlocks(t, r, 999), want)
	}
}

// TestSourceFails: an error of the disk comes out with its place, after the
// frames before it, and again when asked again.
func TestSourceFails(t *testing.T) {
	f := Format{Rate: 48000, Channels: 2, Bits: 16, ValidBits: 16}
	want := ramp(2, 50000)
	b := write(t, f, Options{NoDither: true}, want)
	head := int64(len(b) - 4*50000)
	r, err := NewReader(flaky{b: b, step: 1 << 20, broken: head + 4*30000 + 2}, int64(len(b)), "broken.wav")
	if err != nil {
		t.Fatal(err)
	}
	got := planes(2, 50000)
	n, err := r.Read(got)
	if n != 30000 || !errors.Is(err, errBroken) {
		t.Fatalf("%d frames, %v; want 30000 and the source's error", n, err)
	}
	fault(t, err, head+4*30000+2)
	compare(t, cut(got, 0, n), cut(want, 0, n))
	if n, err := r.Read(got); n != 0 || !errors.Is(err, errBroken) {
		t.Errorf("again: %d, %v", n, err)
	}
}

// TestShrunkFile: a file that is cut while it is read ends with an error.
func TestShrunkFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shrinks.wav")
	writeFile(t, path, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{}, planes(1, 100000))
	r, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if err := os.Truncate(path, 100001); err != nil {
		t.Fatal(err)
	}
	n, err := r.Read(planes(1, 100000))
	if !errors.Is(err, io.ErrUnexpectedEOF) || n == 0 || n >= 100000 {
		t.Errorf("%d frames, %v; want some and io.ErrUnexpectedEOF", n, err)
	}
	fault(t, err, 100001)
}

// TestHeaderReadFails: every read of the header may fail.
func TestHeaderReadFails(t *testing.T) {
	list := chunk("LIST", append([]byte("INFO"), chunk("INAM", []byte("name\x00"))...))
	table := chunk("ds64", append(le(uint64(0), uint64(6), uint64(3), uint32(1)), le("none", uint64(0))...))
	long := form("RF64", table, list, fmt40(1, 48000, 16, 16, 4, subFormat(1)), chunk("data", body16))
	plain := form("RIFF", fmt16(1, 1, 48000, 16), le("data", uint32(0), body16, body16))
	for _, b := range [][]byte{long, plain} {
		opened := false
		for broken := int64(1); broken < int64(len(b)); broken++ {
			_, err := NewReader(flaky{b: b, step: 100, broken: broken}, int64(len(b)), "broken.wav")
			if err == nil {
				opened = true
				continue
			}
			if !errors.Is(err, errBroken) {
				t.Errorf("broken at %d: %v", broken, err)
			}
		}
		if !opened {
			t.Error("no file opens although only its samples are broken")
		}
	}
	b := plain
	_, err := NewReader(flaky{b: b}, int64(len(b)), "idle.wav")
	if !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("a source that returns nothing: %v", err)
	}
}
