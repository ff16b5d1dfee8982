package wave

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var stereo24 = Format{Rate: 48000, Channels: 2, Bits: 24}

// files lists a folder.
func files(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestFinalName: the final name appears with Close and holds the old file until
// then.
func TestFinalName(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.wav")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	w, err := Create(path, stereo24, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(planes(2, 100000)); err != nil {
		t.Fatal(err)
	}
	if old, err := os.ReadFile(path); string(old) != "old" || err != nil {
		t.Errorf("before Close the name holds %d bytes, %v", len(old), err)
	}
	if n := files(t, dir); len(n) != 2 || !strings.HasSuffix(n[0], ".part") {
		t.Errorf("before Close: %q", n)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if n := files(t, dir); len(n) != 1 || n[0] != "out.wav" {
		t.Errorf("after Close: %q", n)
	}
	if _, got, err := ReadFile(path); err != nil || len(got[0]) != 100000 {
		t.Errorf("read back: %v", err)
	}
	if err := w.Write(planes(2, 1)); !errors.Is(err, os.ErrClosed) {
		t.Errorf("Write after Close: %v", err)
	}
	if err := w.Close(); !errors.Is(err, os.ErrClosed) {
		t.Errorf("second Close: %v", err)
	}
	if err := w.Abort(); err != nil || len(files(t, dir)) != 1 {
		t.Errorf("Abort after Close: %v, %q", err, files(t, dir))
	}
}

// TestPermissions are those of os.Create.
func TestPermissions(t *testing.T) {
	dir := t.TempDir()
	writeFile(t, filepath.Join(dir, "ours.wav"), stereo24, Options{}, planes(2, 1))
	f, err := os.Create(filepath.Join(dir, "theirs"))
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	ours, err := os.Stat(filepath.Join(dir, "ours.wav"))
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := os.Stat(filepath.Join(dir, "theirs"))
	if err != nil {
		t.Fatal(err)
	}
	if ours.Mode() != theirs.Mode() {
		t.Errorf("mode %v; want %v", ours.Mode(), theirs.Mode())
	}
}

func TestAbort(t *testing.T) {
	dir := t.TempDir()
	w, err := Create(filepath.Join(dir, "out.wav"), stereo24, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(planes(2, 100000)); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := w.Abort(); err != nil {
			t.Error(err)
		}
	}
	if n := files(t, dir); len(n) != 0 {
		t.Errorf("left behind: %q", n)
	}
	if err := w.Write(planes(2, 1)); !errors.Is(err, os.ErrClosed) {
		t.Errorf("Write after Abort: %v", err)
	}
	if err := w.Close(); !errors.Is(err, os.ErrClosed) {
		t.Errorf("Close after Abort: %v", err)
	}
	if n := files(t, dir); len(n) != 0 {
		t.Errorf("left behind: %q", n)
	}
}

func TestCreateRefusals(t *testing.T) {
	dir := t.TempDir()
	for name, f := range map[string]Format{
		"rate 0":            {Channels: 1, Bits: 16},
		"rate 7999":         {Rate: 7999, Channels: 1, Bits: 16},
		"rate 384001":       {Rate: 384001, Channels: 1, Bits: 16},
		"no channel":        {Rate: 48000, Bits: 16},
		"9 channels":        {Rate: 48000, Channels: 9, Bits: 16},
		"0 bits":            {Rate: 48000, Channels: 1},
		"20 bits":           {Rate: 48000, Channels: 1, Bits: 20},
		"64-bit PCM":        {Rate: 48000, Channels: 1, Bits: 64},
		"16-bit float":      {Rate: 48000, Channels: 1, Encoding: Float, Bits: 16},
		"24 of 32 float":    {Rate: 48000, Channels: 1, Encoding: Float, Bits: 32, ValidBits: 24},
		"17 valid of 16":    {Rate: 48000, Channels: 1, Bits: 16, ValidBits: 17},
		"7 valid of 16":     {Rate: 48000, Channels: 1, Bits: 16, ValidBits: 7},
		"unknown encoding":  {Rate: 48000, Channels: 1, Encoding: 7, Bits: 16},
		"2 positions for 1": {Rate: 48000, Channels: 1, Bits: 16, ChannelMask: 3},
		"negative channels": {Rate: 48000, Channels: -1, Bits: 16},
	} {
		_, err := Create(filepath.Join(dir, "out.wav"), f, Options{})
		if err == nil || !strings.Contains(err.Error(), "legal") || !strings.Contains(err.Error(), "out.wav") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Create(filepath.Join(dir, "absent", "out.wav"), stereo24, Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("absent folder: %v", err)
	}
	if n := files(t, dir); len(n) != 0 {
		t.Errorf("left behind: %q", n)
	}
}

// TestRenameFails: the name is taken by a folder.
func TestRenameFails(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.wav")
	if err := os.MkdirAll(filepath.Join(path, "inside"), 0o700); err != nil {
		t.Fatal(err)
	}
	w, err := Create(path, stereo24, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err == nil {
		t.Error("Close replaces a folder")
	}
	if n := files(t, dir); len(n) != 1 {
		t.Errorf("left behind: %q", n)
	}
}

// TestWriteNotFinite: such a sample ends the file; the error names its place.
func TestWriteNotFinite(t *testing.T) {
	for _, f := range []Format{stereo24, {Rate: 48000, Channels: 2, Bits: 32, Encoding: Float}, {Rate: 48000, Channels: 2, Bits: 64, Encoding: Float}} {
		for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			dir := t.TempDir()
			w, err := Create(filepath.Join(dir, "out.wav"), f, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if err := w.Write(planes(2, 20000)); err != nil {
				t.Fatal(err)
			}
			bad := planes(2, 20000)
			bad[1][12345] = x
			for range 2 {
				if err := w.Write(bad); err == nil || !strings.Contains(err.Error(), "channel 1, frame 32345: sample is") {
					t.Errorf("%v into %v: %v", x, f, err)
				}
			}
			if err := w.Close(); err == nil || len(files(t, dir)) != 0 {
				t.Errorf("%v into %v: Close %v leaves %q", x, f, err, files(t, dir))
			}
		}
	}
	w, err := Create(filepath.Join(t.TempDir(), "out.wav"), Format{Rate: 48000, Channels: 1, Bits: 32, Encoding: Float}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	if err := w.Write([][]float64{{1e39}}); err == nil {
		t.Error("1e39 fits in binary32")
	}
}

// TestClip: samples beyond the range stop at its ends and are counted; nothing
// wraps round.
func TestClip(t *testing.T) {
	const lsb = 1.0 / 32768
	in := [][]float64{{1 - lsb, 1 - lsb/2, 1, 1.5, 2, 1e300, -1, -1 - lsb/4, -1 - lsb, -2, -1e300, 0}}
	path := filepath.Join(t.TempDir(), "out.wav")
	w, err := Create(path, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{NoDither: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(in); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if w.Clipped() != 8 {
		t.Errorf("%d clipped; want 8", w.Clipped())
	}
	_, got, err := ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const top = 1 - lsb
	compare(t, got, [][]float64{{top, top, top, top, top, top, -1, -1, -1, -1, -1, 0}})
}

// TestDitherNeverWraps drives every integer format far over full scale.
func TestDitherNeverWraps(t *testing.T) {
	for _, f := range everyFormat() {
		if f.Encoding != PCM || f.Channels != 1 {
			continue
		}
		over := planes(1, 2000)
		for i := range over[0] {
			over[0][i] = math.Copysign(1.00001+float64(i)/100, float64(i%2)-0.5)
		}
		for i, x := range samples(t, mustRead(t, write(t, f, Options{}, over)))[0] {
			if math.Signbit(x) != math.Signbit(over[0][i]) || math.Abs(x) < 0.99 {
				t.Fatalf("%v: %v became %v", f, over[0][i], x)
			}
		}
	}
}

// TestFloatDoesNotClip: float files keep what is above full scale.
func TestFloatDoesNotClip(t *testing.T) {
	in := [][]float64{{1, 2, -4, 1e10}}
	b := write(t, Format{Rate: 48000, Channels: 1, Bits: 32, Encoding: Float}, Options{}, in)
	compare(t, samples(t, mustRead(t, b)), in)
}

func TestWriteShapes(t *testing.T) {
	w, err := Create(filepath.Join(t.TempDir(), "out.wav"), stereo24, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, block := range [][][]float64{planes(1, 4), planes(3, 4), {make([]float64, 4), make([]float64, 5)}} {
		mustPanic(t, func() { w.Write(block) })
	}
	if err := w.Write(planes(2, 0)); err != nil {
		t.Error(err)
	}
}

// TestWriteDoesNotAllocate holds the bulk path to no allocation.
func TestWriteDoesNotAllocate(t *testing.T) {
	for _, f := range everyFormat() {
		w := newWriter("", "", &failing{room: 1 << 40}, f, Options{})
		block := planes(f.Channels, 5000)
		if n := testing.AllocsPerRun(20, func() {
			if err := w.Write(block); err != nil {
				t.Fatal(err)
			}
		}); n != 0 {
			t.Errorf("%v: %v allocations a write", f, n)
		}
	}
}
