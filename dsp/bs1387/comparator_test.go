package bs1387

import (
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"quietcross/dsp/level"
)

func compared(t testing.TB, spl level.DB, ref, test [][]float64) Result {
	t.Helper()
	c, err := NewComparator(Config{Rate: Rate, PlaybackSPL: spl, Channels: len(ref)})
	if err != nil {
		t.Fatal(err)
	}
	c.Add(ref, test)
	return c.Result()
}

func mono(x []float64) [][]float64 { return [][]float64{x} }

// plus returns a + gain·b.
func plus(a []float64, gain float64, b []float64) []float64 {
	sum := make([]float64, len(a))
	for i := range sum {
		sum[i] = a[i] + gain*b[i]
	}
	return sum
}

// chord is a decaying chord with overtones, a stand-in for music.
func chord(n int, amplitude float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		t := float64(i) / Rate
		for _, f := range []float64{220, 277.2, 329.6, 440} {
			for h := 1.0; h <= 6; h++ {
				x[i] += amplitude / 8 / h * math.Sin(2*math.Pi*f*h*t) * math.Exp(-t*h/2)
			}
		}
	}
	return x
}

// wind is a soft tone as of a flute: a few weak overtones and slow vibrato.
func wind(n int, amplitude float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		t := float64(i) / Rate
		phase := 2*math.Pi*523.25*t + 0.8*math.Sin(2*math.Pi*5*t)
		x[i] = amplitude * (math.Sin(phase) + 0.1*math.Sin(2*phase) + 0.03*math.Sin(3*phase))
	}
	return x
}

// deadBand passes x through a dead band of half-width d and gives it back its
// own best-fitting gain, so that only distortion is left.
func deadBand(x []float64, d float64) []float64 {
	y := make([]float64, len(x))
	cross, own := 0.0, 0.0
	for i, v := range x {
		y[i] = v - max(-d, min(d, v))
		cross += y[i] * v
		own += v * v
	}
	for i := range y {
		y[i] *= own / cross
	}
	return y
}

func programme(n int) map[string][]float64 {
	return map[string][]float64{
		"noise": noise(n, 0.1, 1),
		"chord": chord(n, 0.5),
		"wind":  wind(n, 0.03),
		"tone":  sine(n, 0.9, 1000),
	}
}

// A signal against itself has no difference at all.
func TestIdentity(t *testing.T) {
	for name, x := range programme(Rate) {
		r := compared(t, 0, mono(x), mono(x))
		if r.Detection != 0 || r.DistortedBlock != 0 || r.DisturbedFrames != 0 || r.NoiseLoudness != 0 ||
			r.Modulation1 != 0 || r.HarmonicStructure != 0 || r.TotalNoiseToMask > -100 {
			t.Errorf("%s against itself: %+v", name, r)
		}
		if want := (Rate - hop) / hop; r.Frames != want {
			t.Errorf("%d frames, want %d", r.Frames, want)
		}
	}
}

// A twentieth of a decibel, a tenth of the minimum step known, is not heard.
func TestSmallGainChangeIsNotHeard(t *testing.T) {
	for name, x := range programme(Rate) {
		for _, gain := range []level.DB{-0.05, 0.05} {
			y := plus(x, gain.Amplitude()-1, x)
			for _, spl := range []level.DB{60, 92} {
				if r := compared(t, spl, mono(x), mono(y)); r.Detection > 0.05 {
					t.Errorf("%s, %g dB at %g dB SPL: %g", name, float64(gain), float64(spl), r.Detection)
				}
			}
		}
	}
}

// White noise added at rising level is heard ever more surely.
func TestProbabilityRisesWithNoise(t *testing.T) {
	hiss := noise(Rate, 1, 99)
	for name, x := range programme(Rate) {
		last := -1.0
		for db := level.DB(-130); db <= 0; db += 5 {
			r := compared(t, 0, mono(x), mono(plus(x, 0.1*db.Amplitude(), hiss)))
			if r.Detection < last {
				t.Errorf("%s: %g at %g dB after %g", name, r.Detection, float64(db), last)
			}
			last = r.Detection
		}
		if last < 0.99 {
			t.Errorf("%s: as much noise as full scale heard with %g", name, last)
		}
	}
}

// Distortion 110 dB under full scale is 18 dB under the reference of sound
// pressure at 92 dB SPL and is never heard, at 105 dB SPL neither.
func TestDistortionAt110IsNeverHeard(t *testing.T) {
	for name, x := range programme(Rate) {
		for _, f := range []float64{150, 1000, 3300, 9000} {
			y := plus(x, 1, sine(len(x), level.DB(-110).Amplitude(), f))
			for _, spl := range []level.DB{92, 105} {
				if r := compared(t, spl, mono(x), mono(y)); r.Detection > 0.01 {
					t.Errorf("%s and %g Hz at %g dB SPL: %g", name, f, float64(spl), r.Detection)
				}
			}
		}
	}
}

// A stage without bias, with a dead band from a fiftieth of the signal's peak to
// most of it, is always heard on a soft tone 30 dB under full scale.
func TestUnbiasedStageIsHeardOnASoftTone(t *testing.T) {
	amplitude := level.DB(-30).Amplitude()
	x := wind(Rate, amplitude)
	for _, part := range []float64{0.02, 0.1, 0.3, 0.6, 0.9} {
		y := deadBand(x, part*amplitude)
		if r := compared(t, 0, mono(x), mono(y)); r.Detection < 0.99 {
			t.Errorf("dead band of %g of the peak: %g", part, r.Detection)
		}
		if r := compared(t, 0, mono(x[:Rate/3]), mono(y[:Rate/3])); r.Detection < 0.5 {
			t.Errorf("dead band of %g of the peak: %g in the first third of a second", part, r.Detection)
		}
	}
}

// A difference in a stretch of time is heard in that stretch.
func TestDetectionFollowsTheFault(t *testing.T) {
	x := chord(3*Rate, 0.5)
	y := append([]float64(nil), x...)
	copy(y[2*Rate:], plus(x[2*Rate:], 0.05, noise(Rate, 1, 5)))
	until := func(n int) float64 { return compared(t, 0, mono(x[:n]), mono(y[:n])).Detection }
	if before, after := until(2*Rate), until(2*Rate+Rate*3/10); before != 0 || after < 0.5 {
		t.Errorf("detection %g until the fault begins, %g 0.3 s later", before, after)
	}
}

// A louder listener hears more of a faint error in a quiet passage.
func TestPlaybackLevelMatters(t *testing.T) {
	x := wind(Rate, 0.003)
	y := deadBand(x, 0.0003)
	soft := compared(t, 50, mono(x), mono(y)).Detection
	loud := compared(t, 100, mono(x), mono(y)).Detection
	if soft > 0.1 || loud < 0.9 {
		t.Errorf("%g at 50 dB SPL, %g at 100 dB SPL", soft, loud)
	}
}

// Two equal channels are one channel.
func TestEqualChannels(t *testing.T) {
	x, y := chord(Rate, 0.5), plus(chord(Rate, 0.5), 0.003, noise(Rate, 1, 5))
	one := compared(t, 0, mono(x), mono(y))
	two := compared(t, 0, [][]float64{x, x}, [][]float64{y, y})
	if !reflect.DeepEqual(one, two) {
		t.Errorf("one channel %+v\ntwo equal channels %+v", one, two)
	}
}

// Blocks of any length and a reference heard beforehand give the same bits.
func TestBlocksAndReferenceAgree(t *testing.T) {
	ref := [][]float64{chord(Rate, 0.5), noise(Rate, 0.1, 3)}
	test := [][]float64{plus(ref[0], 0.01, noise(Rate, 1, 5)), plus(ref[1], 0.3, ref[1])}
	want := compared(t, 0, ref, test)
	c, err := NewComparator(Config{Rate: Rate, Channels: 2})
	if err != nil {
		t.Fatal(err)
	}
	for at, size := 0, 1; at < Rate; size = size*3%5003 + 1 {
		end := min(at+size, Rate)
		c.Add([][]float64{ref[0][at:end], ref[1][at:end]}, [][]float64{test[0][at:end], test[1][at:end]})
		at = end
	}
	if got := c.Result(); !reflect.DeepEqual(got, want) {
		t.Error("blocks change the result")
	}
	r, err := NewReference(Config{Rate: Rate, Channels: 2}, ref)
	if err != nil {
		t.Fatal(err)
	}
	results := make(chan Result)
	for range 3 {
		go func() { results <- r.Compare(test) }()
	}
	for range 3 {
		if got := <-results; !reflect.DeepEqual(got, want) {
			t.Error("a reference heard beforehand changes the result")
		}
	}
}

// Adding costs no memory.
func TestAddDoesNotAllocate(t *testing.T) {
	x, y := mono(noise(8*hop, 0.1, 1)), mono(noise(8*hop, 0.1, 2))
	c, err := NewComparator(Config{Rate: Rate, Channels: 1})
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(20, func() { c.Add(x, y) }); n > 0 {
		t.Errorf("%g allocations for 8 frames", n)
	}
	runtime.KeepAlive(c)
}

// Nothing is not a number, even for silence and signals too short for a frame.
func TestEmptyAndSilent(t *testing.T) {
	for _, n := range []int{0, 100, frameLength, Rate} {
		r := compared(t, 0, mono(make([]float64, n)), mono(make([]float64, n)))
		v := reflect.ValueOf(r)
		for i := range v.NumField() {
			if f := v.Field(i); f.CanFloat() && (math.IsNaN(f.Float()) || math.IsInf(f.Float(), 0)) {
				t.Errorf("%d samples of silence: %s is %g", n, v.Type().Field(i).Name, f.Float())
			}
		}
	}
}

func TestConfigErrors(t *testing.T) {
	for want, c := range map[string]Config{
		"44100":    {Rate: 44100, Channels: 1},
		"3 channe": {Rate: Rate, Channels: 3},
		"0 channe": {Rate: Rate},
		"140":      {Rate: Rate, Channels: 1, PlaybackSPL: 140},
		"NaN":      {Rate: Rate, Channels: 1, PlaybackSPL: level.DB(math.NaN())},
	} {
		_, err := NewComparator(c)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error %v, want one that names %s", c, err, want)
		}
	}
}

func TestUnlikeBlocksPanic(t *testing.T) {
	for _, blocks := range [][2][][]float64{
		{mono(make([]float64, 5)), mono(make([]float64, 6))},
		{mono(make([]float64, 5)), nil},
		{make([][]float64, 2), make([][]float64, 2)},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%v accepted", blocks)
				}
			}()
			compared(t, 0, blocks[0][:1], blocks[1])
			c, _ := NewComparator(Config{Rate: Rate, Channels: 1})
			c.Add(blocks[0], blocks[1])
		}()
	}
}
