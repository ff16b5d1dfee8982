package survey

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
)

// header is a WAV header with every field given, followed by data.
func header(tag, channels int, rate uint32, bits int, size uint32, data []byte) []byte {
	var b bytes.Buffer
	put := func(values ...any) {
		for _, v := range values {
			binary.Write(&b, binary.LittleEndian, v)
		}
	}
	bytesAFrame := channels * ((bits + 7) / 8)
	put([]byte("RIFF"), size+36, []byte("WAVEfmt "), uint32(16), uint16(tag), uint16(channels), rate,
		rate*uint32(bytesAFrame), uint16(bytesAFrame), uint16(bits), []byte("data"), size, data)
	return b.Bytes()
}

// samples32 are samples of 32 bits.
func samples32(n int, at func(i int) float32) []byte {
	var b bytes.Buffer
	for i := range n {
		binary.Write(&b, binary.LittleEndian, at(i))
	}
	return b.Bytes()
}

// flacFile is a FLAC file of one second of a ramp, 16 bits at 8 kHz.
func flacFile(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	e, err := flac.NewEncoder(&b, &meta.StreamInfo{BlockSizeMin: 4000, BlockSizeMax: 4000, SampleRate: 8000, NChannels: 1, BitsPerSample: 16, NSamples: 8000})
	if err != nil {
		t.Fatal(err)
	}
	for n := range 2 {
		samples := make([]int32, 4000)
		for i := range samples {
			samples[i] = int32((i*37)%4000 - 2000)
		}
		err := e.WriteFrame(&frame.Frame{
			Header:    frame.Header{HasFixedBlockSize: true, BlockSize: 4000, SampleRate: 8000, Channels: frame.ChannelsMono, BitsPerSample: 16, Num: uint64(n)},
			Subframes: []*frame.Subframe{{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, Samples: samples, NSamples: 4000}},
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// hostile is 60 files that are no good recordings, by name.
func hostile(t *testing.T) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	sine := func(i int) float32 { return 0.3 * float32(math.Sin(0.2*float64(i))) }
	music := samples32(8000, sine)
	good := header(3, 1, 8000, 32, uint32(len(music)), music)
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	spoilt := func(by float32, every int) []byte {
		return samples32(8000, func(i int) float32 {
			if i%every == 0 {
				return by
			}
			return sine(i)
		})
	}
	random := rand.New(rand.NewPCG(6, 6))
	noise := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(random.Uint32())
		}
		return b
	}
	float := func(data []byte) []byte { return header(3, 1, 8000, 32, uint32(len(data)), data) }
	maps.Copy(files, map[string][]byte{
		"empty.wav": {}, "empty.flac": {}, "one byte.wav": {'R'},
		"text.wav": []byte("Dear diary, this is no music."), "page.flac": []byte("<html><script>alert(1)</script>"),
		"lossy.mp3": append([]byte("ID3\x04\x00"), noise(3000)...), "lossy.ogg": append([]byte("OggS\x00\x02"), noise(3000)...),
		"lossy as.wav": append([]byte{0xff, 0xfb, 0x90, 0x64}, noise(3000)...), "other.aiff": append([]byte("FORM\x00\x00\x10\x00AIFF"), noise(100)...),
		"all nan.wav":      float(samples32(8000, func(int) float32 { return nan })),
		"some nan.wav":     float(spoilt(nan, 100)),
		"infinite.wav":     float(spoilt(inf, 7)),
		"beyond.wav":       float(spoilt(1e30, 50)),
		"silent.wav":       float(samples32(8000, func(int) float32 { return 0 })),
		"nearly.wav":       float(samples32(8000, func(int) float32 { return 1e-40 })),
		"short.wav":        float(samples32(100, sine)),
		"no frames.wav":    float(nil),
		"claims 4 GB.wav":  header(3, 1, 8000, 32, 0xFFFFFFF0, music),
		"cut short.wav":    good[:len(good)/2],
		"cut in frame.wav": good[:len(good)-3],
		"no channels.wav":  header(1, 0, 8000, 16, 100, noise(100)),
		"many.wav":         header(1, 300, 8000, 16, 6000, noise(6000)),
		"surround.wav":     header(1, 6, 8000, 16, 96000, noise(96000)),
		"no rate.wav":      header(1, 1, 0, 16, 1000, noise(1000)),
		"fast.wav":         header(1, 1, 4_000_000_000, 16, 1000, noise(1000)),
		"no bits.wav":      header(1, 1, 8000, 0, 1000, noise(1000)),
		"odd bits.wav":     header(1, 1, 8000, 13, 1000, noise(1000)),
		"compressed.wav":   header(0x55, 1, 8000, 16, 1000, noise(1000)),
		"cut.flac":         flacFile(t)[:9000], "head.flac": flacFile(t)[:30],
		"<b>markup.wav": []byte("x"), "line\nbreak.wav": []byte("x"), "bad \xff\xfe name.wav": []byte("x"),
	})
	flipped := flacFile(t)
	flipped[len(flipped)/2] ^= 0x40
	files["flipped.flac"] = flipped
	big := append([]byte("RF64\xff\xff\xff\xffWAVEds64\x1c\x00\x00\x00"), bytes.Repeat([]byte{0xff}, 28)...)
	files["rf64.wav"] = append(big, good[12:]...)
	for i := 0; len(files) < 50; i++ {
		files[fmt.Sprintf("header of %d.wav", 4*i+3)] = good[:4*i+3]
	}
	for i := 0; len(files) < 60; i++ {
		files[fmt.Sprintf("noise %d.wav", i)] = noise(500 * (i + 1))
	}
	return files
}

// The bar: 60 hostile files among good ones are all listed, each refused with a reason or
// told to be odd, and none stops the run. Two more are 40 GB long, and one is a link to
// nothing.
func TestHostileFiles(t *testing.T) {
	library := t.TempDir()
	tinyLibrary(t, library, 8)
	files := hostile(t)
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(library, name), content, 0o666); err != nil {
			if runtime.GOOS == "windows" {
				t.Skip(err) // names that it does not have
			}
			t.Fatal(err)
		}
	}
	for name, size := range map[string]int64{"long.wav": 40 << 30, "long.flac": 40 << 30} {
		path := filepath.Join(library, name)
		if err := os.WriteFile(path, header(1, 1, 8000, 8, 0xFFFFFFFF, nil), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Truncate(path, size); err != nil {
			t.Log(err)
			os.Remove(path)
		}
	}
	link(t, filepath.Join(library, "nowhere"), filepath.Join(library, "dangling.wav"))
	r := surveyed(t, t.TempDir(), library, options(t))
	refused := map[string]string{}
	for _, f := range r.Refused {
		refused[f.Name] = f.Reason
		if f.Reason == "" || strings.Contains(f.Reason, library) {
			t.Errorf("%s: reason %q", f.Name, f.Reason)
		}
	}
	odd := map[string]bool{}
	for _, rec := range r.Recordings {
		odd[rec.Name] = len(rec.Warnings) > 0
	}
	for name := range files {
		name = strings.ToValidUTF8(name, "\uFFFD")
		if refused[name] == "" && !odd[name] {
			t.Errorf("%q is in no list", name)
		}
	}
	for _, name := range []string{"dangling.wav", "long.wav", "long.flac"} {
		if refused[name] == "" {
			t.Errorf("%s is not refused", name)
		}
	}
	good := 0
	for name := range odd {
		if strings.HasPrefix(name, "album") {
			good++
		}
	}
	if good != 8 {
		t.Errorf("%d good recordings of 8 were surveyed", good)
	}
	for name, said := range map[string]string{"silent.wav": "silent", "surround.wav": "6 channels", "short.wav": "legal are 0.4 s", "lossy.mp3": "MPEG", "dangling.wav": "no such file"} {
		if !strings.Contains(strings.ToLower(refused[name]), strings.ToLower(said)) {
			t.Errorf("%s: %q, want %q in it", name, refused[name], said)
		}
	}
	t.Logf("%d refused, %d odd but surveyed", len(r.Refused), len(files)-(len(r.Refused)-3))
}

// The bar: 60 hostile files, and recordings of 12 s in stereo and of half an hour heard by
// the search itself, take under 300 MB.
func TestMemoryIsBounded(t *testing.T) {
	if !long() {
		t.Skip("hears a minute of music; QUIETCROSS_LONG=1 runs it")
	}
	library, out := t.TempDir(), t.TempDir()
	for name, content := range hostile(t) {
		if err := os.WriteFile(filepath.Join(library, name), content, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for seed := range uint64(3) {
		x := piece(44100, 12, seed)
		write(t, filepath.Join(library, fmt.Sprintf("good %d.wav", seed)), 44100, [][]float64{x[0], x[0]})
	}
	write(t, filepath.Join(library, "good and long.wav"), 8000, piece(8000, 1800, 9))
	alone(t, out, library, "1/1", "real")
	text, err := os.ReadFile(filepath.Join(out, "resident"))
	if err != nil {
		t.Fatal(err)
	}
	most, err := strconv.Atoi(string(text))
	t.Logf("%d MB resident at most", most>>20)
	if err != nil || most > 300<<20 {
		t.Errorf("%d bytes resident, %v, want under 300 MB", most, err)
	}
}

// resident is the maximum memory of a process so far, bytes; 0 where the system does not
// tell.
func resident(pid int) int {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kilobytes, _ := strconv.Atoi(strings.TrimSuffix(strings.TrimSpace(rest), " kB"))
			return kilobytes << 10
		}
	}
	return 0
}
