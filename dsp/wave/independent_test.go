package wave

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// TestDecoderReadsOurs uses the library's decoder as an independent reader of
// our PCM files: same format, same integers.
func TestDecoderReadsOurs(t *testing.T) {
	for _, bits := range []int{16, 24, 32} {
		for _, channels := range []int{1, 2, 6} {
			f := Format{Rate: 44100, Channels: channels, Bits: bits, ValidBits: bits}
			signal := grid(rand.New(rand.NewPCG(5, 6)), f, 1000)
			d, data, err := full(write(t, f, Options{NoDither: true}, signal))
			if err != nil {
				t.Fatal(err)
			}
			if int(d.NumChans) != channels || int(d.BitDepth) != bits || d.SampleRate != 44100 || len(data) != 1000*channels {
				t.Fatalf("%v: decoder sees %d channels, %d bits, %d Hz, %d samples", f, d.NumChans, d.BitDepth, d.SampleRate, len(data))
			}
			scale := float64(uint64(1) << (bits - 1))
			for i, v := range data {
				if want := signal[i%channels][i/channels] * scale; float64(v) != want {
					t.Fatalf("%v: sample %d is %d; want %v", f, i, v, want)
				}
			}
		}
	}
}

// TestEncoderPacksAlike: the library's encoder, given integers in range, makes
// the same sample bytes as ours, and our Reader reads its file.
func TestEncoderPacksAlike(t *testing.T) {
	for _, bits := range []int{16, 24, 32} {
		f := Format{Rate: 48000, Channels: 2, Bits: bits, ValidBits: bits}
		signal := grid(rand.New(rand.NewPCG(7, 8)), f, 500)
		scale := float64(uint64(1) << (bits - 1))
		var data []int
		for i := range signal[0] {
			data = append(data, int(signal[0][i]*scale), int(signal[1][i]*scale))
		}
		theirs := encode(t, 2, bits, 1, nil, data...)
		ours := write(t, f, Options{NoDither: true}, signal)
		if n := 500 * 2 * bits / 8; !bytes.Equal(theirs[len(theirs)-n:], ours[len(ours)-n:]) {
			t.Errorf("%d bits: other sample bytes", bits)
		}
		r := mustRead(t, theirs)
		if len(r.Warnings()) != 0 {
			t.Errorf("%d bits: %q", bits, r.Warnings())
		}
		compare(t, samples(t, r), signal)
	}
}

// TestDecoderReadsOurInfo: the library finds our text, where it is not fooled
// by its own lack of pad bytes.
func TestDecoderReadsOurInfo(t *testing.T) {
	b := write(t, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{Info: Info{Title: "even", Artist: "odd", Comment: "c"}}, planes(1, 5))
	d := wav.NewDecoder(bytes.NewReader(b))
	d.ReadMetadata()
	if d.Err() != nil || d.Metadata == nil || d.Metadata.Title != "even" || d.Metadata.Artist != "odd" || d.Metadata.Comments != "c" {
		t.Errorf("%+v, %v", d.Metadata, d.Err())
	}
}

// TestDurationAgrees with the library's, which counts the whole form for audio
// and so is late by the 80 bytes of the other chunks.
func TestDurationAgrees(t *testing.T) {
	const frames = 480_000
	b := write(t, Format{Rate: 48000, Channels: 1, Bits: 16}, Options{}, planes(1, frames))
	d, err := riff.Duration(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "duration in seconds", d.Seconds(), frames/48000.0, 80.0/96000)
	if r := mustRead(t, b); r.Frames() != frames {
		t.Errorf("%d frames", r.Frames())
	}
}

// TestIntBufferIsInterleaved pins what the quantiser takes from the library:
// frames are counted by channels, data is interleaved.
func TestIntBufferIsInterleaved(t *testing.T) {
	q := newQuantiser(Format{Rate: 48000, Channels: 2, Bits: 16, ValidBits: 16}, Options{NoDither: true})
	if bad := q.block([][]float64{{0.5, 0.25}, {-0.5, -0.25}}); bad != nil {
		t.Fatal(bad)
	}
	if q.out.NumFrames() != 2 || q.out.PCMFormat().SampleRate != 48000 {
		t.Errorf("%d frames, %+v", q.out.NumFrames(), q.out.PCMFormat())
	}
	want := []int{16384, -16384, 8192, -8192}
	for i, v := range want {
		if q.out.Data[i] != v {
			t.Errorf("data %v; want %v", q.out.Data, want)
		}
	}
	if f := q.out.AsFloat32Buffer(); f.Data[0] != 0.5 || f.Data[3] != -0.25 {
		t.Errorf("the library's own scaling gives %v", f.Data)
	}
	var _ audio.Buffer = &q.out
}

// TestFmtCommonFields: what the library decodes of a fmt chunk is what was put
// there.
func TestFmtCommonFields(t *testing.T) {
	h, err := commonFields(fmt40(6, 96000, 24, 20, 0x3F, subFormat(1))[8:])
	if err != nil {
		t.Fatal(err)
	}
	if h.WavAudioFormat != 0xFFFE || h.NumChannels != 6 || h.SampleRate != 96000 || h.AvgBytesPerSec != 1728000 || h.BlockAlign != 18 || h.BitsPerSample != 24 {
		t.Errorf("%s", strings.TrimSpace(h.String()))
	}
}
