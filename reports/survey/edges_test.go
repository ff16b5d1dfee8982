package survey

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

// levels is a course of loudness of n windows at one level.
func levels(n int, l level.DB) []level.DB { return slices.Repeat([]level.DB{l}, n) }

// Windows of 0.4 s are silent at or under -70 LUFS (ITU-R BS.1770, the absolute gate), and
// those that lie in an excerpt count.
func TestEdgesOfSilence(t *testing.T) {
	for l, want := range map[level.DB]bool{-69.9: true, -70: false, -70.1: false} {
		c := &chooser{length: 10, brief: levels(97, l)}
		if c.sounding(0) != want {
			t.Errorf("%g LUFS: sounding %v", float64(l), !want)
		}
	}
	for at, want := range map[int]bool{96: false, 97: true} { // 9.6 s and 9.7 s: to 10 and to 10.1 s
		c := &chooser{length: 10, brief: levels(98, -30)}
		c.brief[at] = -80
		if c.sounding(0) != want {
			t.Errorf("silence in window %d: sounding %v", at, !want)
		}
	}
}

// A fade goes on over a rise of 1 LU and ends at more.
func TestEdgeOfARise(t *testing.T) {
	for rise, want := range map[level.DB]int{0.9: 4, 1.1: 2} {
		c := &chooser{short: []level.DB{-20, -25, -30, -30 + rise, -31}}
		if end, _ := c.falling(0); end != want {
			t.Errorf("a rise of %g LU: ends at window %d, want %d", float64(rise), end, want)
		}
	}
}

// A window of three seconds passes a sudden end in three seconds: what falls in so many is
// no fade.
func TestEdgeOfAFade(t *testing.T) {
	for tenths, want := range map[int]bool{30: false, 31: true} {
		c := &chooser{length: 10, seconds: 60, short: []level.DB{-21}}
		for i := range tenths {
			c.short = append(c.short, -20-11*level.DB(i)/level.DB(tenths))
		}
		c.short = append(c.short, levels(400, -31)...)
		if _, without := c.fade(); (without == "") != want {
			t.Errorf("a fall of 11 LU in %d tenths of a second: %q", tenths, without)
		}
	}
}

// Passages within 0.5 LU of the typical one are typical.
func TestEdgeOfTypical(t *testing.T) {
	for off, want := range map[level.DB]int{0.45: 21, 0.55: 20, -0.45: 21, -0.55: 20} {
		c := &chooser{length: 10, seconds: 60, long: append(levels(20, -20), -20+off), random: rand.New(rand.NewPCG(1, 2))}
		if e, _ := c.loud(); !strings.HasSuffix(e.Why, fmt.Sprintf("one of %d", want)) {
			t.Errorf("%g LU off: %s, want %d", float64(off), e.Why, want)
		}
	}
}

// An excerpt of which more than half lies in another is left out.
func TestEdgeOfOverlap(t *testing.T) {
	for to, want := range map[float64]bool{5.1: true, 4.9: false} {
		if got := overlaps(Excerpt{From: 0, To: 10}, []Excerpt{{From: -5, To: to}}) != ""; got != want {
			t.Errorf("%g of 10 s in another: left out %v", to, got)
		}
	}
}

// The interval of a share of zeros and ones is the bias-corrected and accelerated one whose
// acceleration is that of the jackknife (Efron and Tibshirani 1993, formulas 14.9, 14.10,
// 14.14 and 14.15), with half of the drawings that equal the share counted as below it.
func TestShareIntervalAgainstTheJackknife(t *testing.T) {
	const count, clean, replications = 20, 3, 4001
	share := float64(clean) / count
	random := rand.New(rand.NewPCG(3, 4))
	drawn := make([]float64, replications)
	for i := range drawn {
		for range count {
			if random.IntN(count) < clean {
				drawn[i] += 1. / count
			}
		}
	}
	cubes, squares := 0.0, 0.0
	for i := range count {
		value := 0.0
		if i < clean {
			value = 1
		}
		left := (clean - value) / (count - 1) // without it
		cubes += math.Pow(share-left, 3)
		squares += math.Pow(share-left, 2)
	}
	acceleration := cubes / (6 * math.Pow(squares, 1.5))
	below := 0.0
	for _, d := range drawn {
		if whole := math.Round(d * count); whole < clean {
			below++
		} else if whole == clean {
			below += 0.5
		}
	}
	bias := quantileOfNormal(below / replications)
	want := make([]float64, 2)
	slices.Sort(drawn)
	for i, z := range []float64{quantileOfNormal(0.025), quantileOfNormal(0.975)} {
		alpha := 0.5 * math.Erfc(-(bias+(bias+z)/(1-acceleration*(bias+z)))/math.Sqrt2)
		want[i] = drawn[int(math.Ceil(alpha*replications))-1]
	}
	got := shareInterval(share, count, drawn)
	if math.Abs(got.Low-want[0]) > 1e-9 || math.Abs(got.High-want[1]) > 1e-9 {
		t.Errorf("%+v, want %v", got, want)
	}
	// Intervals take a thousand drawings and more (there, section 14.3; from memory: 2000).
	s := newSweep([][]Span{{{1, 2}}}, nil, nil)
	if n := len(bootstrap([]*sweep{s}, 1)[0]); n < 1500 || n > 3000 {
		t.Errorf("%d drawings", n)
	}
}

// A rank correlation's interval is by Fisher's transform with the standard error of Bonett
// and Wright: 0.5 of 30 pairs has atanh 0.549306 and error 0.204124, and so 0.1481 to
// 0.7395. One that rounding takes past 1 is 1.
func TestRankInterval(t *testing.T) {
	got := rankInterval(0.5, 30)
	if math.Abs(got.Low-0.148132) > 1e-5 || math.Abs(got.High-0.739503) > 1e-5 {
		t.Errorf("%+v", got)
	}
	if got := rankInterval(math.Nextafter(1, 2), 30); math.IsNaN(got.Low) || math.IsNaN(got.High) {
		t.Errorf("past 1: %+v", got)
	}
}

// Correlations are told of ten recordings and more, ten recordings are listed as the worst,
// the curve has ten points a decade of its four, and lists that people read are cut.
func TestEdgesOfLists(t *testing.T) {
	for count, want := range map[int]bool{9: false, 10: true} {
		if got := len(made(count).Distributions[0].Properties) > 0; got != want {
			t.Errorf("%d recordings: correlations %v", count, got)
		}
	}
	r := made(205)
	d := &r.Distributions[0]
	if len(d.Worst) != 10 || len(d.Shares) != 41 {
		t.Errorf("%d worst, %d shares", len(d.Worst), len(d.Shares))
	}
	if ratio := d.Shares[10].Quiescent / d.Shares[0].Quiescent; math.Abs(ratio-10) > 1e-9 {
		t.Errorf("ten points span a ratio of %g", ratio)
	}
	if s := r.library(); len(s.Notes) != 1 || !strings.HasPrefix(s.Notes[0], "5 more") {
		t.Errorf("205 recordings on the page: %q", s.Notes)
	}
	r.Refused = slices.Repeat([]Refusal{{"a.wav", "no"}}, 25)
	var table strings.Builder
	if err := r.WriteTable(&table); err != nil || !strings.Contains(table.String(), "and 5 more") {
		t.Errorf("25 refused: %v: %s", err, table.String())
	}
}

// Shares are drawn and written in percent.
func TestPercent(t *testing.T) {
	if got := percent(0.123) + ", " + percents(Interval{0.1, 0.2}) + ", " + points(-0.034); got != "12.3\u00a0%, 10.0 to 20.0\u00a0%, −3.4" {
		t.Errorf("%q", got)
	}
	d := Distribution{Shares: []Share{{1e-3, 0.25, Interval{0.125, 0.5}}}}
	if _, ok := d.curve(0, 0); ok {
		t.Error("one point has a curve")
	}
	d.Shares = append(d.Shares, Share{1e-2, 1, Interval{1, 1}})
	f, ok := d.curve(0, 0)
	if !ok || f.Figure.Y.Hi != 100 || f.Figure.Rules[0].At != 90 {
		t.Fatalf("%v, %+v", ok, f.Figure)
	}
	for i, want := range []float64{12.5, 50, 25} {
		if got := f.Figure.Traces[i].Y; got[0] != want || got[1] != 100 {
			t.Errorf("trace %d: %v", i, got)
		}
	}
}

// A search goes from a thousandth of the optimum to ten times it, and ends at neighbours
// of the lattice: it is told to narrow to more than the one step between them, and to less
// than two.
func TestSearchIsOfTheLattice(t *testing.T) {
	o := DefaultOptions()
	search, err := o.search(0.1)
	if err != nil || search.Low != 1e-4 || search.High != 1 {
		t.Fatalf("%+v, %v", search, err)
	}
	step := math.Pow(10, 1.0/10)
	if search.PerDecade != 10 || search.Tolerance < step-1 || search.Tolerance > step*step-1 {
		t.Errorf("%d a decade, narrowed to %g", search.PerDecade, search.Tolerance)
	}
}

// The defaults, and what is legal at its ends.
func TestLegalEnds(t *testing.T) {
	if o := options(t); o.Length != 10 || o.Loudness != -23 || o.Limit != 0.5 { // EBU R 128
		t.Errorf("%+v", o)
	}
	for name, c := range map[string]struct {
		set           func(*Options, float64)
		legal, beyond []float64
	}{
		"length":   {func(o *Options, v float64) { o.Length = v }, []float64{3, 60}, []float64{2.99, 60.1}},
		"level":    {func(o *Options, v float64) { o.Level = level.DB(v) }, []float64{-120, 20}, []float64{-120.1, 20.1}},
		"loudness": {func(o *Options, v float64) { o.Loudness = level.DB(v) }, []float64{-70, 0}, []float64{-70.1, 0.1}},
		"workers":  {func(o *Options, v float64) { o.Workers = int(v) }, []float64{1}, []float64{0}},
		"parts":    {func(o *Options, v float64) { o.Part = Part{1, int(v)} }, []float64{1, 100_000}, []float64{0, -1, 100_001}},
	} {
		for i, v := range slices.Concat(c.legal, c.beyond) {
			o := options(t)
			if c.set(&o, v); (o.Check() == nil) != (i < len(c.legal)) {
				t.Errorf("%s of %g: %v", name, v, o.Check())
			}
		}
	}
	if _, err := slurmPart(func(name string) string { return slurmTask(0, 1, 0, 0, 0)[name] }); err == nil {
		t.Error("an array of step 0 was taken")
	}
}

// stretched writes a mono WAV of 8 bits without its samples, which the file system makes up.
func stretched(t *testing.T, channels, rate, frames int) File {
	t.Helper()
	f := File{"long.wav", filepath.Join(t.TempDir(), "long.wav")}
	head := []byte("RIFF....WAVEfmt ....................data....")
	put := binary.LittleEndian
	put.PutUint32(head[4:], uint32(36+channels*frames))
	put.PutUint32(head[16:], 16)
	put.PutUint16(head[20:], 1)
	put.PutUint16(head[22:], uint16(channels))
	put.PutUint32(head[24:], uint32(rate))
	put.PutUint32(head[28:], uint32(rate*channels))
	put.PutUint16(head[32:], uint16(channels))
	put.PutUint16(head[34:], 8)
	put.PutUint32(head[40:], uint32(channels*frames))
	if err := os.WriteFile(f.Path, head, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(f.Path, int64(len(head)+channels*frames)); err != nil {
		t.Fatal(err)
	}
	return f
}

// A recording has one channel or two, which the ear model hears, and is at most a day long.
func TestEdgesOfARecording(t *testing.T) {
	const rate, day = 8000, 24 * 3600
	for _, c := range []struct {
		channels int
		seconds  int
		refusal  string
	}{{1, day, ""}, {1, day + 1, "legal are up to 24"}, {1, day + 3600, "25 hours long"}, {2, 60, ""}, {3, 60, "3 channels"}} {
		stream, err := stretched(t, c.channels, rate, rate*c.seconds).open()
		if (err == nil) != (c.refusal == "") || err != nil && !strings.Contains(err.Error(), c.refusal) {
			t.Errorf("%+v: %v", c, err)
		}
		if err == nil {
			stream.Close()
		}
	}
}

// banded is a spectrum that holds one line in each of some third-octave bands, of a level.
func banded(rate float64, mids []float64, l level.DB) *spectrum.Spectrum {
	s := &spectrum.Spectrum{Rate: rate, Size: 1 << 14, Power: make([]float64, 1<<13+1), Segments: 1}
	for _, f := range mids {
		s.Power[int(math.Round(f/rate*float64(s.Size)))] = l.Amplitude() * l.Amplitude()
	}
	return s
}

// A tilt is that of the bands from 100 Hz to 10 kHz, or to 0.4 of the rate: what lies in
// them bears on it and what lies beyond does not. It takes six bands above -120 dB.
func TestEdgesOfATilt(t *testing.T) {
	all := func(rate float64) (mids []float64) {
		for _, b := range spectrum.ThirdOctaves(25, 0.4999*rate) {
			mids = append(mids, b.Mid)
		}
		return mids
	}
	for _, c := range []struct {
		rate, band float64 // Hz, and thirds of an octave above 1 kHz
		bears      bool
	}{{48000, -11, false}, {48000, -10, true}, {48000, 10, true}, {48000, 11, false}, {8000, 5, true}, {8000, 6, false}} {
		hertz := 1000 * math.Pow(10, c.band/10)
		s := banded(c.rate, all(c.rate), -60)
		level, _ := tiltOf(s)
		s.Power[int(math.Round(hertz/c.rate*float64(s.Size)))] *= 1e4
		bumped, ok := tiltOf(s)
		if got := math.Abs(bumped-level) > 0.01; !ok || got != c.bears {
			t.Errorf("%g Hz at a rate of %g Hz: %g and %g dB an octave", hertz, c.rate, level, bumped)
		}
	}
	mids := []float64{200, 400, 800, 1600, 3150, 6300}
	for l, want := range map[level.DB]bool{-115: true, -125: false} { // the window spreads a line over some dB
		if _, ok := tiltOf(banded(48000, mids, l)); ok != want {
			t.Errorf("bands at %g dB: a tilt %v", float64(l), ok)
		}
	}
	if _, ok := tiltOf(banded(48000, mids[1:], -60)); ok {
		t.Error("five bands have a tilt")
	}
}

// A list's lines are up to 64 KiB, a recording is known by 32 hexadecimal digits, and a
// store says in its header (SQLite's file format, offset 68) whose it is.
func TestEdgesOfFiles(t *testing.T) {
	dir := t.TempDir()
	list := filepath.Join(dir, "list.txt")
	for n, legal := range map[int]bool{65_000: true, 66_000: false} {
		if err := os.WriteFile(list, []byte(strings.Repeat("a", n)), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := List([]string{list}, nil); (err == nil) != legal {
			t.Errorf("a line of %d bytes: %v", n, err)
		}
	}
	if id, err := (File{"a", list}).identity(); err != nil || len(id) != 32 {
		t.Errorf("%q, %v", id, err)
	}
	s, err := openStore(dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(filepath.Join(dir, StoreFile))
	if err != nil || len(file) < 72 || string(file[68:72]) != "QCSV" {
		t.Errorf("%v, %d bytes", err, len(file))
	}
}

// Where drawings are normal about a share, without bias, the interval of Efron (JASA 82:171,
// 1987, formula 2.3) ends z/(1 - az) deviations from it: a is a sixth of the skewness of
// the jackknife's values, here from 5 recordings of 50.
func TestAccelerationOfAnInterval(t *testing.T) {
	const share, count, deviation = 0.1, 50, 0.042
	cubes, squares := 0.0, 0.0
	for i := range count {
		out := map[bool]float64{true: 1}[i < 5]
		influence := (out - share) / (count - 1) // of leaving one recording out
		cubes, squares = cubes+influence*influence*influence, squares+influence*influence
	}
	a := cubes / (6 * math.Pow(squares, 1.5))
	drawn := make([]float64, 20_001)
	for i := range drawn {
		drawn[i] = share + deviation*distuv.UnitNormal.Quantile((float64(i)+0.5)/float64(len(drawn)))
	}
	got := shareInterval(share, count, drawn)
	for _, c := range []struct{ got, z float64 }{{got.Low, -1.96}, {got.High, 1.96}} {
		if want := c.z / (1 - a*c.z); math.Abs((c.got-share)/deviation/want-1) > 0.01 {
			t.Errorf("ends %g deviations away, want %g", (c.got-share)/deviation, want)
		}
	}
}
