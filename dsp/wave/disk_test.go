package wave

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// failing is a disk that is full after room bytes, or fails elsewhere.
type failing struct {
	room            int64
	header, atEnd   error
	written, closed int
}

func (f *failing) Write(p []byte) (int, error) {
	if f.room -= int64(len(p)); f.room < 0 {
		return 0, syscall.ENOSPC
	}
	f.written += len(p)
	return len(p), nil
}
func (f *failing) WriteAt(p []byte, _ int64) (int, error) { return len(p), f.header }
func (f *failing) Close() error                           { f.closed++; return f.atEnd }

// TestDiskFails: whichever step fails, its error comes out, the temporary file
// goes and no final file comes.
func TestDiskFails(t *testing.T) {
	for name, disk := range map[string]*failing{
		"full at once":      {room: 100},
		"full in between":   {room: 200_000},
		"full at the end":   {room: 100 + 6*100_000},
		"header":            {room: 1 << 30, header: syscall.EIO},
		"close":             {room: 1 << 30, atEnd: syscall.EDQUOT},
		"closed by another": {room: 1 << 30, atEnd: os.ErrClosed},
	} {
		dir := t.TempDir()
		temp := filepath.Join(dir, "out.part")
		if err := os.WriteFile(temp, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		f := stereo24
		f.ValidBits = 24
		w := newWriter(filepath.Join(dir, "out.wav"), temp, disk, f, Options{})
		werr := w.Write(planes(2, 100_000))
		cerr := w.Close()
		want := disk.header
		if want == nil {
			want = disk.atEnd
		}
		if want == nil {
			want = syscall.ENOSPC
		}
		if !errors.Is(cerr, want) || !strings.Contains(cerr.Error(), "out.wav") {
			t.Errorf("%s: Close returns %v; want %v with the path", name, cerr, want)
		}
		if early := strings.HasPrefix(name, "full") && name != "full at the end"; early != (werr != nil) {
			t.Errorf("%s: Write returns %v", name, werr)
		}
		if n := files(t, dir); len(n) != 0 {
			t.Errorf("%s: left behind %q", name, n)
		}
		if disk.closed == 0 {
			t.Errorf("%s: not closed", name)
		}
	}
}

// TestFullDevice meets the real error of a full disk.
func TestFullDevice(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Skipf("this system has no device that is always full: %v", err)
	}
	dir := t.TempDir()
	temp := filepath.Join(dir, "out.part")
	if err := os.WriteFile(temp, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	w := newWriter(filepath.Join(dir, "out.wav"), temp, full, Format{Rate: 48000, Channels: 1, Bits: 16, ValidBits: 16}, Options{})
	if err := w.Write(planes(1, 100_000)); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("Write: %v", err)
	}
	if err := w.Close(); !errors.Is(err, syscall.ENOSPC) || len(files(t, dir)) != 0 {
		t.Errorf("Close: %v, leaves %q", err, files(t, dir))
	}
}

// TestEveryFlushBoundary: a pad byte and a header find room whatever the fill
// of the buffer is.
func TestEveryFlushBoundary(t *testing.T) {
	f := Format{Rate: 8000, Channels: 1, Bits: 8, ValidBits: 8}
	var sink failing
	for frames := blockBytes - 200; frames < blockBytes+10; frames++ {
		sink = failing{room: 1 << 30}
		w := newWriter("", "", &sink, f, Options{})
		if err := w.Write(planes(1, frames)); err != nil {
			t.Fatal(err)
		}
		w.finish()
		if want := int(w.header.length()) + frames + frames%2; sink.written != want {
			t.Fatalf("%d frames: %d bytes; want %d", frames, sink.written, want)
		}
	}
}
