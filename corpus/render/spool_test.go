package render

import (
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"

	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

// spooled writes a rung's track and its reference in pieces of any length and reads both
// back in others. It returns the bytes that each took.
func spooled(t *testing.T, track, reference planar.Audio, codings [2]coding) (gotTrack, gotReference planar.Audio, sizes [2]int64) {
	t.Helper()
	dir := t.TempDir()
	rng := rand.New(rand.NewPCG(2, 2))
	var spools [2]*spool
	for i := range spools {
		s, err := newSpool(dir, len(track), codings[i])
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.close() })
		spools[i] = s
	}
	frames := track.Frames()
	for at := 0; at < frames; {
		to := min(frames, at+1+rng.IntN(1500))
		for i, part := range []planar.Audio{track, reference} {
			if err := spools[i].write(part.Cut(at, to), reference.Cut(at, to)); err != nil {
				t.Fatal(err)
			}
		}
		at = to
	}
	for i, s := range spools {
		if err := s.flush(); err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(s.file.Name())
		if err != nil {
			t.Fatal(err)
		}
		sizes[i] = info.Size()
	}
	gotTrack, gotReference = planar.New(len(track), frames), planar.New(len(track), frames)
	ofTrack, ofReference := spools[0].reader(), spools[1].reader()
	for at := 0; at < frames; {
		to := min(frames, at+1+rng.IntN(1500))
		if err := ofReference.read(gotReference.Cut(at, to), nil); err != nil {
			t.Fatal(err)
		}
		if err := ofTrack.read(gotTrack.Cut(at, to), gotReference.Cut(at, to)); err != nil {
			t.Fatal(err)
		}
		at = to
	}
	if err := ofTrack.read(planar.New(len(track), 1), planar.New(len(track), 1)); err == nil {
		t.Error("read beyond the end")
	}
	return gotTrack, gotReference, sizes
}

// distant returns a noise, and what a stage with a gain of 0.97 and a residual at -80 dB
// would make of it.
func distant(frames int) (track, reference planar.Audio) {
	rng := rand.New(rand.NewPCG(3, 3))
	track, reference = planar.New(2, frames), planar.New(2, frames)
	for c := range track {
		for i := range track[c] {
			reference[c][i] = 0.2 * rng.NormFloat64()
			track[c][i] = 0.97*reference[c][i] + 2e-5*rng.NormFloat64()
		}
	}
	return track, reference
}

// TestSpoolGivesBack holds what comes back to the steps of integers of 32 and 24 bits, as in
// any text on quantising: half a step of the maximum.
func TestSpoolGivesBack(t *testing.T) {
	track, reference := distant(5000)
	gotTrack, gotReference, sizes := spooled(t, track, reference, [2]coding{remains, whole})
	for c := range track {
		reach, left := level.Peak(reference[c]), 0.
		for i := range track[c] {
			left = max(left, math.Abs(track[c][i]-0.97*reference[c][i]))
		}
		for i := range track[c] {
			if d := math.Abs(gotReference[c][i] - reference[c][i]); d > reach*0x1p-32*1.001 {
				t.Fatalf("reference is %g off, half a step is %g", d, reach*0x1p-32)
			}
			// The gain in each block is not quite 0.97, hence a little more.
			rest := track[c][i] - 0.97*reference[c][i]
			got := gotTrack[c][i] - 0.97*gotReference[c][i]
			if d := math.Abs(got - rest); d > left*0x1p-24*1.1 {
				t.Fatalf("what is left is %g off, half a step is %g", d, left*0x1p-24)
			}
		}
	}
	values := int64(2 * 5000)
	if sizes[0] > 3*values+400 || sizes[1] > 4*values+400 {
		t.Errorf("took %d and %d bytes for %d values", sizes[0], sizes[1], values)
	}
}

// TestSpoolOfAnything: silence, nothing but the reference, what is no number or next to
// nothing, comes back to the bit; one such block leaves the others alone.
func TestSpoolOfAnything(t *testing.T) {
	for name, odd := range map[string]float64{
		"silence": 0, "infinity": math.Inf(-1), "no number": math.NaN(), "denormal": 5e-324, "small": 0x1p-970,
	} {
		track, reference := planar.New(1, 1500), planar.New(1, 1500)
		for i := range 1024 {
			reference[0][i] = float64(i) * 0x1p-10
		}
		copy(track[0], reference[0])
		track[0][1100] = odd
		got, _, _ := spooled(t, track, reference, [2]coding{remains, whole})
		for i, v := range track[0] {
			if w := got[0][i]; math.Abs(w-v) > 0x1p-32 || i >= 1024 && w != v && !(math.IsNaN(v) && math.IsNaN(w)) {
				t.Errorf("%s: frame %d is %g, was %g", name, i, w, v)
			}
		}
	}
}

// TestSpoolOfWideFormats: what will be written with more than 24 bits is kept to the bit.
func TestSpoolOfWideFormats(t *testing.T) {
	for _, f := range []wave.Format{{Encoding: wave.Float, Bits: 32}, {Encoding: wave.PCM, Bits: 32}} {
		track, reference := distant(3000)
		gotTrack, gotReference, _ := spooled(t, track, reference, [2]coding{codingFor(f, false), codingFor(f, true)})
		if !reflect.DeepEqual(gotTrack, track) || !reflect.DeepEqual(gotReference, reference) {
			t.Errorf("%v: not what was kept", f)
		}
	}
	if c := codingFor(wave.Format{Encoding: wave.PCM, Bits: 24}, false); c != remains {
		t.Errorf("24 bits: %d bytes a value", c)
	}
}
