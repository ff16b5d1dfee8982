package wave

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// tool runs a program of Debian's packages sox or espeak-ng and returns what it
// printed. Without the program the test is skipped, except under CI=true, where
// that is a failure.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed, and CI must run this test", name)
		}
		t.Skipf("%s is not installed (Debian package sox or espeak-ng): this test is skipped", name)
	}
	var out, problems bytes.Buffer
	c := exec.CommandContext(t.Context(), path, args...)
	c.Stdout, c.Stderr = &out, &problems
	if err := c.Run(); err != nil {
		t.Fatalf("%s %q: %v: %s", name, args, err, problems.String())
	}
	if out.Len() == 0 { // sox prints its measurements as errors
		return problems.String()
	}
	return out.String()
}

// soxFormats are the sample formats exchanged with sox, with its flags.
var soxFormats = []struct {
	format Format
	flags  []string
}{
	{Format{Channels: 1, Bits: 8, ValidBits: 8}, []string{"-e", "unsigned-integer", "-b", "8"}},
	{Format{Channels: 2, Bits: 16, ValidBits: 16}, []string{"-e", "signed-integer", "-b", "16"}},
	{Format{Channels: 2, Bits: 24, ValidBits: 24}, []string{"-e", "signed-integer", "-b", "24"}},
	{Format{Channels: 1, Bits: 32, ValidBits: 32}, []string{"-e", "signed-integer", "-b", "32"}},
	{Format{Channels: 6, Bits: 24, ValidBits: 24}, []string{"-e", "signed-integer", "-b", "24"}},
	{Format{Channels: 8, Bits: 16, ValidBits: 16}, []string{"-e", "signed-integer", "-b", "16"}},
	{Format{Channels: 2, Encoding: Float, Bits: 32, ValidBits: 32}, []string{"-e", "floating-point", "-b", "32"}},
	{Format{Channels: 4, Encoding: Float, Bits: 32, ValidBits: 32}, []string{"-e", "floating-point", "-b", "32"}},
	{Format{Channels: 1, Encoding: Float, Bits: 64, ValidBits: 64}, []string{"-e", "floating-point", "-b", "64"}},
}

// step is the distance of two neighbouring samples of a format near 0.5.
func step(f Format) float64 {
	if f.Encoding == Float {
		return 0x1p-24
	}
	return math.Ldexp(1, 1-f.ValidBits)
}

// TestReadSox reads a tone that sox made, against the tone itself.
func TestReadSox(t *testing.T) {
	const frames, rate, frequency = 12_001, 44_100, 1000
	for _, c := range soxFormats {
		t.Run(fmt.Sprintf("%v%dx%d", c.format.Encoding, c.format.Bits, c.format.Channels), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "sox.wav")
			args := append([]string{"-D", "-R", "-r", strconv.Itoa(rate), "-c", strconv.Itoa(c.format.Channels), "-n"}, c.flags...)
			args = append(args, path, "synth", fmt.Sprintf("%ds", frames), "sine", strconv.Itoa(frequency), "vol", "0.5")
			tool(t, "sox", args...)
			f, got, err := ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			// sox writes EXTENSIBLE where the rules ask for it, except for floats.
			wide := c.format.Encoding == PCM && (c.format.Channels > 2 || c.format.Bits > 16)
			if f.Rate != rate || f.Channels != c.format.Channels || f.Encoding != c.format.Encoding || f.Bits != c.format.Bits || f.ValidBits != c.format.ValidBits || f.Extensible != wide {
				t.Errorf("format %+v", f)
			}
			// sox computes the tone in integers of 32 bits and rounds twice.
			tol := 1.01*step(c.format) + 2*0x1p-31
			for ch := range got {
				if len(got[ch]) != frames {
					t.Fatalf("%d frames; want %d", len(got[ch]), frames)
				}
				for i, x := range got[ch] {
					want := 0.5 * math.Sin(2*math.Pi*frequency*float64(i)/rate)
					if math.Abs(x-want) > tol {
						t.Fatalf("channel %d, frame %d: %v; want %v ± %v", ch, i, x, want, tol)
					}
				}
			}
		})
	}
}

// TestReadSoxPipe reads what sox streams into a pipe, with sizes never filled
// in.
func TestReadSoxPipe(t *testing.T) {
	out := tool(t, "sox", "-D", "-r", "48000", "-c", "2", "-n", "-b", "16", "-t", "wav", "-", "synth", "4801s", "sine", "440")
	r, err := NewReader(strings.NewReader(out), int64(len(out)), "pipe.wav")
	if err != nil {
		t.Fatal(err)
	}
	if w := fmt.Sprint(r.Warnings()); r.Frames() != 4801 || !strings.Contains(w, "never filled in") {
		t.Errorf("%d frames, %s; want 4801 and a warning", r.Frames(), w)
	}
}

// TestSoxReadsOurs gives files to sox and compares what it sees: format, number
// of samples, and every sample, which it hands back raw.
func TestSoxReadsOurs(t *testing.T) {
	const frames = 10_007
	for _, c := range soxFormats {
		f := c.format
		f.Rate = 48000
		t.Run(f.String(), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "ours.wav")
			signal := grid(rand.New(rand.NewPCG(9, 10)), f, frames)
			for ch := range signal {
				for i := range signal[ch] {
					if f.Encoding == Float {
						signal[ch][i] = float64(float32(signal[ch][i] / 8))
					}
				}
			}
			writeFile(t, path, f, Options{NoDither: true, Info: Info{Title: "for another reader"}}, signal)
			for flag, want := range map[string]string{
				"-s": strconv.Itoa(frames),
				"-r": "48000",
				"-c": strconv.Itoa(f.Channels),
				"-b": strconv.Itoa(f.Bits),
				"-D": fmt.Sprintf("%.6f", frames/48000.0),
			} {
				if got := strings.TrimSpace(tool(t, "soxi", flag, path)); got != want {
					t.Errorf("soxi %s: %s; want %s", flag, got, want)
				}
			}
			back, flags := f, c.flags
			if f.Encoding == Float { // it rounds what it hands back in binary32
				back.Bits, flags = 64, []string{"-e", "floating-point", "-b", "64"}
			}
			raw := tool(t, "sox", append(append([]string{"-D", path, "-t", "raw"}, flags...), "-L", "-")...)
			got := planes(f.Channels, frames)
			if want := frames * back.frameBytes(); len(raw) != want {
				t.Fatalf("sox hands back %d bytes; want %d", len(raw), want)
			}
			decoderOf(back)(got, 0, frames, []byte(raw))
			// sox works in integers of 32 bits, which floats are rounded to.
			tol := 0.0
			if f.Encoding == Float {
				tol = 0x1p-31
			}
			for ch := range got {
				for i, x := range got[ch] {
					if math.Abs(x-max(-1, min(1, signal[ch][i]))) > tol {
						t.Fatalf("channel %d, frame %d: %v; want %v", ch, i, x, signal[ch][i])
					}
				}
			}
		})
	}
}

// TestSoxStatistics: sox measures the level that was written.
func TestSoxStatistics(t *testing.T) {
	path := filepath.Join(t.TempDir(), "tone.wav")
	tone := planes(1, 48000)
	for i := range tone[0] {
		tone[0][i] = 0.25 * math.Sin(2*math.Pi*1000*float64(i)/48000)
	}
	writeFile(t, path, Format{Rate: 48000, Channels: 1, Bits: 24}, Options{}, tone)
	for name, want := range map[string]float64{
		"Samples read":      48000,
		"Length (seconds)":  1,
		"Maximum amplitude": 0.25,
		"Minimum amplitude": -0.25,
		"Mean    amplitude": 0,
		"RMS     amplitude": 0.25 / math.Sqrt2,
	} {
		_, rest, ok := strings.Cut(tool(t, "sox", path, "-n", "stat"), name+":")
		if !ok {
			t.Fatalf("sox stat has no %q", name)
		}
		x, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		near(t, name, x, want, 1.5e-6) // six decimals are printed
	}
}

// TestReadSpeech reads speech of espeak-ng, from a file and from a pipe: the
// same samples, which are there.
func TestReadSpeech(t *testing.T) {
	const text = "The quiet passage shows the crossover."
	path := filepath.Join(t.TempDir(), "speech.wav")
	tool(t, "espeak-ng", "-w", path, text)
	f, file, err := ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if f != (Format{Rate: 22050, Channels: 1, Bits: 16, ValidBits: 16}) {
		t.Errorf("format %+v", f)
	}
	if seconds := float64(len(file[0])) / 22050; seconds < 1 || seconds > 10 {
		t.Errorf("%v s of speech", seconds)
	}
	var sum float64
	for _, x := range file[0] {
		sum += x * x
	}
	if rms := math.Sqrt(sum / float64(len(file[0]))); rms < 0.005 || rms > 0.5 {
		t.Errorf("RMS %v is no speech", rms)
	}
	out := tool(t, "espeak-ng", "--stdout", text)
	r, err := NewReader(strings.NewReader(out), int64(len(out)), "pipe.wav")
	if err != nil {
		t.Fatal(err)
	}
	if w := fmt.Sprint(r.Warnings()); !strings.Contains(w, "never filled in") {
		t.Errorf("warnings %s", w)
	}
	pipe := planes(1, int(r.Frames()))
	if _, err := r.Read(pipe); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	compare(t, pipe, file)
}
