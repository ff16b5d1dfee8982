package wave

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"
)

// everyFormat lists what Create accepts, by sample.
func everyFormat() []Format {
	var all []Format
	for _, valid := range []struct {
		e           Encoding
		bits, valid int
	}{
		{PCM, 8, 8},
		{PCM, 16, 16},
		{PCM, 16, 12},
		{PCM, 24, 24},
		{PCM, 24, 20},
		{PCM, 32, 32},
		{PCM, 32, 24},
		{Float, 32, 32},
		{Float, 64, 64},
	} {
		for _, channels := range []int{1, 2, 3, 8} {
			all = append(all, Format{Rate: 48000, Channels: channels, Encoding: valid.e, Bits: valid.bits, ValidBits: valid.valid})
		}
	}
	return all
}

// TestRoundTrip writes and reads every format with odd block lengths. Samples
// that the format can hold come back bit for bit.
func TestRoundTrip(t *testing.T) {
	for _, f := range everyFormat() {
		t.Run(f.String(), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			want := grid(rng, f, 9001)
			b := write(t, f, Options{NoDither: true}, cut(want, 0, 1), cut(want, 1, 1), cut(want, 1, 778), cut(want, 778, 9001))
			r := mustRead(t, b)
			if g := r.Format(); g.Rate != f.Rate || g.Channels != f.Channels || g.Encoding != f.Encoding || g.Bits != f.Bits || g.ValidBits != f.ValidBits {
				t.Fatalf("format %v; want %v", g, f)
			}
			if len(r.Warnings()) != 0 {
				t.Errorf("warnings %q", r.Warnings())
			}
			if r.Frames() != 9001 {
				t.Fatalf("%d frames; want 9001", r.Frames())
			}
			compare(t, inBlocks(t, r, 617), want)
		})
	}
}

// inBlocks reads a file in blocks of n frames.
func inBlocks(t *testing.T, r *Reader, n int) [][]float64 {
	t.Helper()
	all := make([][]float64, r.Format().Channels)
	block := planes(len(all), n)
	for {
		m, err := r.Read(block)
		for c := range all {
			all[c] = append(all[c], block[c][:m]...)
		}
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func compare(t *testing.T, got, want [][]float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d channels; want %d", len(got), len(want))
	}
	for c := range want {
		if len(got[c]) != len(want[c]) {
			t.Fatalf("channel %d: %d frames; want %d", c, len(got[c]), len(want[c]))
		}
		for i := range want[c] {
			if got[c][i] != want[c][i] {
				t.Fatalf("channel %d, frame %d: %v; want %v", c, i, got[c][i], want[c][i])
			}
		}
	}
}

// TestEveryCode reads each of the 256 and 65,536 codes against the definition
// in the multimedia specification (IBM and Microsoft, 1991, "Data Format of the
// Samples"): up to 8 bits unsigned with midpoint 128, above that signed.
func TestEveryCode(t *testing.T) {
	var b8, b16 []byte
	for code := range 256 {
		b8 = append(b8, byte(code))
	}
	for code := range 65536 {
		b16 = append(b16, byte(code), byte(code>>8))
	}
	got := samples(t, mustRead(t, form("RIFF", fmt16(1, 1, 8000, 8), chunk("data", b8))))[0]
	for code, x := range got {
		if want := (float64(code) - 128) / 128; x != want {
			t.Fatalf("8-bit code %d: %v; want %v", code, x, want)
		}
	}
	got = samples(t, mustRead(t, form("RIFF", fmt16(1, 1, 8000, 16), chunk("data", b16))))[0]
	for code, x := range got {
		signed := code
		if code >= 32768 {
			signed -= 65536
		}
		if want := float64(signed) / 32768; x != want {
			t.Fatalf("16-bit code %d: %v; want %v", code, x, want)
		}
	}
}

// TestWideCodes does the same at the ends and the middle of 24 and 32 bits. The
// extreme and middle codes are those of the specification's table of formats.
func TestWideCodes(t *testing.T) {
	b24 := []byte{0, 0, 0x80, 0xFF, 0xFF, 0xFF, 0, 0, 0, 1, 0, 0, 0xFF, 0xFF, 0x7F}
	want24 := []float64{-1, -1.0 / (1 << 23), 0, 1.0 / (1 << 23), 1 - 1.0/(1<<23)}
	compare(t, samples(t, mustRead(t, form("RIFF", fmt16(1, 1, 8000, 24), chunk("data", b24)))), [][]float64{want24})
	b32 := le(int32(math.MinInt32), int32(-1), int32(0), int32(1), int32(math.MaxInt32))
	want32 := []float64{-1, -1.0 / (1 << 31), 0, 1.0 / (1 << 31), 1 - 1.0/(1<<31)}
	compare(t, samples(t, mustRead(t, form("RIFF", fmt16(1, 1, 8000, 32), chunk("data", b32)))), [][]float64{want32})
}

// TestFloatValues passes what IEEE 754 holds, signed zero and denormals
// included.
func TestFloatValues(t *testing.T) {
	values := []float64{0, math.Copysign(0, -1), 1, -1, 0x1p-149, -0x1p-126, 1e10, 0.1}
	var b32, b64 []byte
	for _, v := range values {
		b32 = append(b32, le(float32(v))...)
		b64 = append(b64, le(v)...)
	}
	for _, f := range []struct {
		bits int
		body []byte
	}{{32, b32}, {64, b64}} {
		got := samples(t, mustRead(t, form("RIFF", fmt16(3, 1, 48000, f.bits), chunk("data", f.body))))[0]
		for i, v := range values {
			if f.bits == 32 {
				v = float64(float32(v))
			}
			if math.Float64bits(got[i]) != math.Float64bits(v) {
				t.Errorf("float %d: %v; want %v", f.bits, got[i], v)
			}
		}
	}
}

// TestSeek reads single frames in random order.
func TestSeek(t *testing.T) {
	f := Format{Rate: 44100, Channels: 2, Bits: 24, ValidBits: 24}
	rng := rand.New(rand.NewPCG(3, 4))
	want := grid(rng, f, 40000)
	r := mustRead(t, write(t, f, Options{NoDither: true}, want))
	block := planes(2, 3)
	for range 300 {
		at := rng.IntN(40000 - 3)
		if err := r.SeekFrame(int64(at)); err != nil {
			t.Fatal(err)
		}
		if n, err := r.Read(block); n != 3 || err != nil {
			t.Fatal(n, err)
		}
		compare(t, block, cut(want, at, at+3))
	}
	for _, at := range []int64{-1, 40001} {
		if err := r.SeekFrame(at); err == nil {
			t.Errorf("seek to frame %d of 40000 succeeds", at)
		}
	}
	if err := r.SeekFrame(40000); err != nil {
		t.Error(err)
	}
	if n, err := r.Read(block); n != 0 || err != io.EOF {
		t.Errorf("at the end: %d, %v", n, err)
	}
}

func TestReadShapes(t *testing.T) {
	r := mustRead(t, form("RIFF", fmt16(1, 2, 48000, 16), chunk("data", make([]byte, 40))))
	if n, err := r.Read(planes(2, 0)); n != 0 || err != nil {
		t.Errorf("empty block: %d, %v; want 0, nil", n, err)
	}
	for _, block := range [][][]float64{planes(1, 4), planes(3, 4), {make([]float64, 4), make([]float64, 5)}} {
		mustPanic(t, func() { r.Read(block) })
	}
	// The last frames come without an error, the end with the call after.
	if n, err := r.Read(planes(2, 64)); n != 10 || err != nil {
		t.Errorf("short rest: %d, %v; want 10, nil", n, err)
	}
}

func mustPanic(t *testing.T, f func()) {
	t.Helper()
	defer func() {
		if s, ok := recover().(string); !ok || len(s) < 5 || s[:5] != "wave:" {
			t.Errorf("panic %q; want one of this package", s)
		}
	}()
	f()
}

// TestReadDoesNotAllocate holds the bulk path to no allocation at all.
func TestReadDoesNotAllocate(t *testing.T) {
	for _, f := range everyFormat() {
		r := mustRead(t, write(t, f, Options{}, planes(f.Channels, 5000)))
		block := planes(f.Channels, 1000)
		if n := testing.AllocsPerRun(20, func() {
			if err := r.SeekFrame(1); err != nil {
				t.Fatal(err)
			}
			if _, err := r.Read(block); err != nil {
				t.Fatal(err)
			}
		}); n != 0 {
			t.Errorf("%v: %v allocations a read", f, n)
		}
	}
}

// TestFormatString keeps the words that reports show.
func TestFormatString(t *testing.T) {
	for _, c := range []struct {
		f    Format
		want string
	}{
		{Format{Rate: 48000, Channels: 1, Bits: 16, ValidBits: 16}, "16-bit PCM, 1 channel, 48000 Hz"},
		{Format{Rate: 96000, Channels: 2, Encoding: Float, Bits: 32, ValidBits: 32}, "32-bit float, 2 channels, 96000 Hz"},
		{Format{Rate: 44100, Channels: 6, Bits: 32, ValidBits: 24}, "24-in-32-bit PCM, 6 channels, 44100 Hz"},
	} {
		if got := fmt.Sprint(c.f); got != c.want {
			t.Errorf("%q; want %q", got, c.want)
		}
	}
}
