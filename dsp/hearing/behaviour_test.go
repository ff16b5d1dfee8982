package hearing

import (
	"math"
	"reflect"
	"runtime"
	"testing"

	"quietcross/dsp/level"
)

// programme is a decaying chord with overtones and a little noise, a stand-in for
// music, in two unlike channels.
func programme(rate, seconds, amplitude float64) [][]float64 {
	n := int(seconds * rate)
	x := [][]float64{make([]float64, n), make([]float64, n)}
	for c := range x {
		hiss := bandNoise(rate, gate(rate, seconds, -1, seconds+1, 0.01), 50, 8000, 5, uint64(c))
		for i := range n {
			t := float64(i) / rate
			for _, f := range []float64{220, 277.2, 329.6 + float64(c), 440} {
				for h := 1.0; h <= 6; h++ {
					x[c][i] += amplitude / 8 / h * math.Sin(2*math.Pi*f*h*t+h) * math.Exp(-t*h/2)
				}
			}
			x[c][i] += hiss[i]
		}
	}
	return x
}

// deadZone passes x through a dead zone of half-width d and gives it back its own
// best-fitting gain, so that only distortion is left.
func deadZone(x []float64, d float64) []float64 {
	return matched(x, func(v float64) float64 { return v - max(-d, min(d, v)) })
}

// matched passes x through a law and takes out the best-fitting gain.
func matched(x []float64, law func(float64) float64) []float64 {
	y := make([]float64, len(x))
	cross, own := 0.0, 0.0
	for i, v := range x {
		y[i] = law(v)
		cross += y[i] * v
		own += v * v
	}
	for i := range y {
		y[i] *= own / cross
	}
	return y
}

func compared(t testing.TB, c Config, ref, test [][]float64, block int) Result {
	t.Helper()
	p, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	for at := 0; at < len(ref[0]); at += block {
		end := min(at+block, len(ref[0]))
		r, s := make([][]float64, len(ref)), make([][]float64, len(ref))
		for i := range ref {
			r[i], s[i] = ref[i][at:end], test[i][at:end]
		}
		p.Process(r, s)
	}
	return p.Result()
}

func both(x [][]float64, law func([]float64) []float64) [][]float64 {
	return [][]float64{law(x[0]), law(x[1])}
}

// A signal against itself gives d' of 0 and chance in every task, and no place.
func TestEqualSignalsGiveChance(t *testing.T) {
	x := programme(48000, 1, 0.5)
	r := compared(t, Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}, x, x, 4096)
	if r.DPrime != 0 || r.Strongest.Frequency != 0 || !math.IsInf(float64(r.Strongest.Excess), -1) {
		t.Errorf("equal signals: d' %g, %+v", r.DPrime, r.Strongest)
	}
	for _, task := range Tasks {
		if math.Abs(r.Right[task]-task.Guess()) > 1e-9 {
			t.Errorf("%v: %g right", task, r.Right[task])
		}
	}
	if _, heard := r.FirstHeard(1e-9); heard {
		t.Error("equal signals are heard")
	}
}

// How signals are cut into blocks does not matter to the last bit, nor whether the
// reference was heard before.
func TestBlocksAndReferenceAgree(t *testing.T) {
	for _, rate := range []float64{44100, 48000} {
		x := programme(rate, 1.3, 0.3)
		y := both(x, func(x []float64) []float64 { return deadZone(x, 1e-3) })
		c := Config{Rate: rate, Channels: 2, PlaybackSPL: 92, Efficiency: 1.5}
		whole := compared(t, c, x, y, len(x[0]))
		if whole.DPrime < 0.1 {
			t.Fatalf("d' %g: nothing to compare", whole.DPrime)
		}
		for _, block := range []int{1, 777, 10000} {
			if got := compared(t, c, x, y, block); !reflect.DeepEqual(got, whole) {
				t.Errorf("%g Hz, blocks of %d: d' %.17g, whole %.17g", rate, block, got.DPrime, whole.DPrime)
			}
		}
		r, err := NewReference(c, x)
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			if got := r.Compare(y); !reflect.DeepEqual(got, whole) {
				t.Errorf("%g Hz, by reference: d' %.17g, whole %.17g", rate, got.DPrime, whole.DPrime)
			}
		}
	}
}

// Thresholds at 44.1, 48 and 96 kHz agree within 2 % of amplitude: tones in quiet and
// beside a masker, and the width of a dead zone.
func TestRatesAgree(t *testing.T) {
	at := func(rate float64) (list []float64) {
		for _, f := range []float64{180, 700, 2300, 9000} {
			env := gate(rate, 0.8, 0.1, 0.7, 0.02)
			masker := sine(rate, env, 1013, 65, 0.1)
			list = append(list, threshold(t, model(standard), rate, make([]float64, len(env)), sine(rate, env, f, 0, 0.2)),
				threshold(t, model(standard), rate, masker, sine(rate, env, f, 0, 0.2)))
		}
		x := sine(rate, gate(rate, 1, 0.05, 0.95, 0.05), 437, 70, 0)
		return append(list, level20(solve(func(d float64) float64 {
			// The products of a dead zone above 20 kHz would alias at 44.1 kHz.
			return compared(t, Config{Rate: rate, Channels: 1, PlaybackSPL: testSPL}, [][]float64{x}, [][]float64{deadZone(x, d)}, len(x)).DPrime
		}, 1e-7, 1e-3)))
	}
	want := at(48000)
	for _, rate := range []float64{44100, 96000} {
		for i, x := range at(rate) {
			off := x - want[i]
			t.Logf("%g Hz, threshold %d: %+.3f dB", rate, i, off)
			if math.Abs(off) > 20*math.Log10(1.02) {
				t.Errorf("%g Hz, threshold %d: off by %.3f dB, 2 %% are 0.172", rate, i, off)
			}
		}
	}
}

func level20(x float64) float64 { return 20 * math.Log10(x) }

// solve returns where f, rising from lo to hi, reaches 1, within about 0.1 %: by steps
// that take f for a power of 1.5, kept between the bounds found.
func solve(f func(float64) float64, lo, hi float64) float64 {
	x := math.Sqrt(lo * hi)
	for range 40 {
		v := f(x)
		if v < 1 {
			lo = x
		} else {
			hi = x
		}
		if math.Abs(v-1) < 1e-3 || hi < lo*1.001 {
			break
		}
		x *= math.Pow(max(v, 1e-9), -1/1.5)
		if !(x > lo && x < hi) {
			x = math.Sqrt(lo * hi)
		}
	}
	return x
}

// Detection falls as a dead zone narrows, towards the best bias, and rises with the
// playback level.
func TestDetectionFollowsBiasAndLevel(t *testing.T) {
	x := programme(48000, 1, 0.3)
	last := math.Inf(1)
	for _, d := range []float64{1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 0} {
		y := both(x, func(x []float64) []float64 { return deadZone(x, d) })
		r := compared(t, Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}, x, y, 4096)
		if r.DPrime >= last {
			t.Errorf("dead zone %g: d' %g after %g", d, r.DPrime, last)
		}
		last = r.DPrime
	}
	if last > 1e-6 {
		t.Errorf("no dead zone: d' %g", last)
	}
	for _, d := range []float64{1e-3, 1e-4} {
		y := both(x, func(x []float64) []float64 { return deadZone(x, d) })
		last := 0.0
		for spl := MinimumSPL; spl <= MaximumSPL; spl += 5 {
			r := compared(t, Config{Rate: 48000, Channels: 2, PlaybackSPL: spl}, x, y, 4096)
			if r.DPrime < last {
				t.Errorf("dead zone %g: d' %g at %g dB SPL after %g", d, r.DPrime, float64(spl), last)
			}
			last = r.DPrime
		}
	}
}

// The efficiency multiplies d', and a threshold of added energy moves by it.
func TestEfficiencyMultiplies(t *testing.T) {
	x := programme(48000, 0.5, 0.3)
	y := both(x, func(x []float64) []float64 { return deadZone(x, 3e-4) })
	c := Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}
	plain := compared(t, c, x, y, 4096).DPrime
	c.Efficiency = -3
	if got := compared(t, c, x, y, 4096).DPrime; math.Abs(got/plain-level.DB(-3).Power()) > 1e-9 {
		t.Errorf("d' %g at -3 dB, %g at 0", got, plain)
	}
}

// A click in a known moment and a tone in a known band are where the result says, and
// it says what they stand out through.
func TestStrongestIsFound(t *testing.T) {
	const rate = 48000.0
	env := gate(rate, 4, -1, 5, 0.01)
	silence := make([]float64, len(env))
	low := sine(rate, env, 500, 75, 0)
	click := make([]float64, len(env))
	copy(click[int(2.5*rate):], sine(rate, gate(rate, 0.004, 0, 0.004, 0.002), 6000, 60, 0))
	tone := sine(rate, gate(rate, 4, 1, 2, 0.02), 3000, 40, 0)
	near := sine(rate, gate(rate, 4, 1, 2, 0.02), 900, 62, 0)
	stopped := sine(rate, gate(rate, 4, -1, 2.48, 0.005), 6000, 80, 0)
	for _, c := range []struct {
		name             string
		ref, added       []float64
		from, to, lo, hi float64
		through          Through
	}{
		{"click in a tone's silence", low, click, 2.5, 2.6, 4500, 7500, ThroughQuiet},
		{"click after a tone", stopped, click, 2.5, 2.6, 4500, 7500, ThroughAftermath},
		{"tone in silence", silence, tone, 1.1, 2.1, 2700, 3300, ThroughQuiet},
		{"tone on a skirt", low, near, 1.1, 2.1, 800, 1000, ThroughSkirt},
		{"tone in the programme's band", low, sine(rate, gate(rate, 4, 1, 2, 0.02), 500, 72, 0), 1.0, 2.1, 400, 2500, ThroughProgramme},
	} {
		r := compared(t, Config{Rate: rate, Channels: 1, PlaybackSPL: testSPL}, [][]float64{c.ref}, [][]float64{sum(c.ref, c.added, 1)}, 4096)
		s := r.Strongest
		if r.DPrime < 1 || s.Time < c.from || s.Time > c.to || s.Frequency < c.lo || s.Frequency > c.hi || s.Through != c.through {
			t.Errorf("%s: d' %.2f, %+v", c.name, r.DPrime, s)
		}
		first, ok := r.FirstHeard(1)
		if !ok || first < c.from-1.2 || first > c.to+0.1 {
			t.Errorf("%s: first heard at %g s, %v", c.name, first, ok)
		}
	}
}

// Memory does not grow with length: records are bounded, and a long run allocates
// nothing more.
func TestMemoryIsBounded(t *testing.T) {
	var c course
	var p picture
	c.span, p.span = 1, 1
	var evidence [bandCount]float64
	const steps = 340000 // an hour
	for n := range steps {
		evidence[40] = float64(n % 1000)
		c.add(Moment{Time: float64(n) * stepTime, DPrime: float64(n % 1000)})
		p.add(&evidence)
	}
	series, drawn := c.series(stepTime), p.drawn(stepTime, 1)
	if len(series.Moments) > courseLimit || len(drawn.Columns) > columnLimit {
		t.Errorf("%d moments, %d columns", len(series.Moments), len(drawn.Columns))
	}
	if end := series.Step * float64(len(series.Moments)); math.Abs(end-steps*stepTime) > series.Step {
		t.Errorf("the course ends at %g s, want %g", end, steps*stepTime)
	}
	if end := drawn.Step * float64(len(drawn.Columns)); math.Abs(end-steps*stepTime) > drawn.Step {
		t.Errorf("the picture ends at %g s, want %g", end, steps*stepTime)
	}
	q, err := New(Config{Rate: 48000, Channels: 1, PlaybackSPL: 92})
	if err != nil {
		t.Fatal(err)
	}
	x := [][]float64{make([]float64, 48000)}
	q.Process(x, x)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for range 5 {
		q.Process(x, x)
	}
	runtime.ReadMemStats(&after)
	if grown := after.TotalAlloc - before.TotalAlloc; grown > 600<<10 {
		t.Errorf("5 s allocate %d bytes", grown)
	}
}

// Unfit configurations are refused, unfit blocks panic.
func TestRefusals(t *testing.T) {
	good := Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}
	for _, change := range []func(*Config){
		func(c *Config) { c.Rate = 31999 },
		func(c *Config) { c.Rate = math.NaN() },
		func(c *Config) { c.Channels = 0 },
		func(c *Config) { c.Channels = 3 },
		func(c *Config) { c.PlaybackSPL = 0 },
		func(c *Config) { c.PlaybackSPL = 110.1 },
		func(c *Config) { c.Efficiency = 30.1 },
		func(c *Config) { c.Ears = 2 },
		func(c *Config) { c.RoomNR = -1 },
		func(c *Config) { c.RoomNR = 60.1 },
	} {
		c := good
		change(&c)
		if _, err := New(c); err == nil {
			t.Errorf("%+v accepted", c)
		}
		if _, err := NewReference(c, nil); err == nil {
			t.Errorf("%+v accepted for a reference", c)
		}
		if _, err := NewProgramme(c); err == nil {
			t.Errorf("%+v accepted for a programme", c)
		}
		if _, err := NewTester(c); err == nil {
			t.Errorf("%+v accepted for a tester", c)
		}
	}
	two, one := [][]float64{{0, 0}, {0, 0}}, [][]float64{{0, 0}}
	for name, f := range map[string]func(*Comparison){
		"one channel":  func(p *Comparison) { p.Process(one, one) },
		"short test":   func(p *Comparison) { p.Process(two, [][]float64{{0}, {0}}) },
		"after result": func(p *Comparison) { p.Result(); p.Process(two, two) },
		"short stretch": func(p *Comparison) {
			p.programme.Hear(&p.heard, two)
			p.tester.Compare(&p.heard, [][]float64{{0}, {0}})
		},
	} {
		p, err := New(good)
		if err != nil {
			t.Fatal(err)
		}
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f(p)
		}()
	}
}

// Two ears with equal evidence tell more together than the better one.
func TestEars(t *testing.T) {
	x := programme(48000, 0.5, 0.3)
	x[1] = x[0]
	y := both(x, func(x []float64) []float64 { return deadZone(x, 3e-4) })
	c := Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}
	better := compared(t, c, x, y, 4096).DPrime
	mono := compared(t, Config{Rate: 48000, Channels: 1, PlaybackSPL: 92}, x[:1], y[:1], 4096).DPrime
	c.Ears = Combined
	combined := compared(t, c, x, y, 4096).DPrime
	if better != mono || math.Abs(combined/better-math.Sqrt2) > 1e-9 {
		t.Errorf("d' %g with one ear, %g with the better, %g combined", mono, better, combined)
	}
}

// Short events are heard in the gaps of what masks them: clicks of 2 ms every 50 ms, at
// 5 kHz, in the middle of 15 ms gaps of a noise, need less than clicks in the middle of
// its bursts. How much less is no published figure; without a resolution of a few
// milliseconds there would be none.
func TestClicksInGaps(t *testing.T) {
	const rate, period = testRate, 0.050
	n := int(1.0 * rate)
	noise := bandNoise(rate, gate(rate, 1, -1, 2, 0.01), 3000, 9000, 30, 5)
	inGap, inBurst := make([]float64, n), make([]float64, n)
	click := sine(rate, gate(rate, 0.002, 0, 0.002, 0.001), 5000, 60, 0)
	for at := period; at < 0.9; at += period {
		for i := range noise {
			if t := float64(i)/rate - at; math.Abs(t) < 0.0075 {
				noise[i] = 0
			}
		}
		copy(inGap[int((at-0.001)*rate):], click)
		copy(inBurst[int((at+period/2-0.001)*rate):], click)
	}
	gap := threshold(t, model(standard), rate, noise, inGap)
	burst := threshold(t, model(standard), rate, noise, inBurst)
	t.Logf("clicks in gaps are heard %.1f dB lower than in bursts", burst-gap)
	if burst-gap < 5 {
		t.Errorf("clicks in gaps are heard %.1f dB lower than in bursts", burst-gap)
	}
}

// A sample that is no number is not passed over in silence.
func TestNotANumber(t *testing.T) {
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		x, y := programme(48000, 0.3, 0.3), programme(48000, 0.3, 0.3)
		y[1][5000] = bad
		if r := compared(t, Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}, x, y, 4096); !math.IsNaN(r.DPrime) {
			t.Errorf("d' %g with a sample of %g", r.DPrime, bad)
		}
	}
}

// The interval is 1.96 standard errors either way on the scale of decibels: 20 lg of the
// amplitude at threshold, 10 lg of d'.
func TestInterval(t *testing.T) {
	low, high := Interval(2)
	for _, off := range []float64{10 * math.Log10(2/low), 10 * math.Log10(high/2)} {
		if math.Abs(off-1.96*float64(ThresholdError)) > 1e-9 {
			t.Errorf("the interval of 2 is %g to %g", low, high)
		}
	}
}

// Many goroutines may share a reference.
func TestReferenceIsShared(t *testing.T) {
	x := programme(48000, 0.3, 0.3)
	r, err := NewReference(Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}, x)
	if err != nil {
		t.Fatal(err)
	}
	y := both(x, func(x []float64) []float64 { return deadZone(x, 1e-3) })
	got := make(chan float64)
	for range 4 {
		go func() { got <- r.Compare(y).DPrime }()
	}
	want := r.Compare(y).DPrime
	for range 4 {
		if d := <-got; d != want {
			t.Errorf("d' %g, alone %g", d, want)
		}
	}
}
