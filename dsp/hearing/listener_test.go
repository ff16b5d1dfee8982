package hearing

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"quietcross/dsp/level"
)

// Proportions right at known d': m alternatives at d' 1 are 0.760250 and 0.633702
// (Green and Swets, 1966; computed outside this project); the triangle at d' 0 is one third, and two alternatives
// follow the closed form Φ(d/√2).
func TestTasks(t *testing.T) {
	for _, c := range []struct {
		task    Task
		d, want float64
	}{
		{TwoIntervals, 1, 0.760250},
		{ThreeIntervals, 1, 0.633702},
		{Triangle, 0, 1. / 3},
		{ThreeIntervals, 0, 1. / 3},
		{TwoIntervals, 0, 0.5},
		{TwoIntervals, 2.3, 0.5 * math.Erfc(-2.3/2)},
	} {
		if got := c.task.Correct(c.d); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%v at d' %g: %.6f, want %.6f", c.task, c.d, got, c.want)
		}
		if got := correctTable()[c.task].at(c.d); math.Abs(got-c.want) > 2e-5 {
			t.Errorf("%v at d' %g by table: %.6f, want %.6f", c.task, c.d, got, c.want)
		}
	}
	for _, task := range Tasks {
		if got := task.Correct(0); math.Abs(got-task.Guess()) > 1e-9 {
			t.Errorf("%v: %g right by guessing, want %g", task, got, task.Guess())
		}
	}
}

// session lets a listener answer n trials on rungs 2 dB apart, one rung harder after
// two right answers and one easier after a wrong one.
func session(s *Simulated, task Task, n int) []Trial {
	var trials []Trial
	rung, run := 8.0, 0
	for range n {
		d := level.DB(rung).Power()
		right := s.Answer(task, d)
		trials = append(trials, Trial{d, task, right})
		switch run++; {
		case !right:
			rung, run = rung+2, 0
		case run == 2:
			rung, run = rung-2, 0
		}
	}
	return trials
}

// A simulated panel whose listeners differ by 12 dB in efficiency is fitted within
// 1 dB (root mean square) from three sessions of 50 trials each, and the interval
// covers the truth about as often as it says.
func TestPanelIsFitted(t *testing.T) {
	for _, task := range Tasks {
		random := rand.New(rand.NewPCG(27, uint64(task)))
		var errs []float64
		covered, largest := 0, 0.0
		const listeners = 60
		for i := range listeners {
			s := &Simulated{Efficiency: level.DB(-6 + 12*float64(i)/(listeners-1)), Random: random}
			var trials []Trial
			for range 3 {
				trials = append(trials, session(s, task, 50)...)
			}
			e, err := FitEfficiency(trials)
			if err != nil {
				t.Fatal(err)
			}
			off := float64(e.DB - s.Efficiency)
			errs, largest = append(errs, off), max(largest, math.Abs(off))
			if e.Low <= s.Efficiency && s.Efficiency <= e.High {
				covered++
			}
		}
		t.Logf("%v: rms error %.2f dB, largest %.2f, interval covers %d of %d", task, rms(errs), largest, covered, listeners)
		if rms(errs) > 1 {
			t.Errorf("%v: rms error %.2f dB", task, rms(errs))
		}
		// 51 of 60 or fewer would happen once in a hundred at 95 %.
		if covered <= 51 {
			t.Errorf("%v: the interval covers %d of %d", task, covered, listeners)
		}
	}
}

// A share of right answers in two intervals has closed forms: once in fifty a guess, else
// Φ(d'/√2) (Green and Swets, 1966), so that the fitted d' is known; and at the ends of its
// interval the binomial's likelihood ratio is the square of 1.96, the 95 % point of one
// degree of freedom (Wilks, 1938).
func TestFitClosedForm(t *testing.T) {
	const d, n = 1.5, 200
	right := func(e level.DB) float64 { return 0.98*0.5*math.Erfc(-d*e.Power()/2) + 0.02*0.5 }
	for _, share := range []float64{0.6, 0.75, 0.96} {
		var trials []Trial
		for i := range n {
			trials = append(trials, Trial{d, TwoIntervals, float64(i) < share*n})
		}
		e, err := FitEfficiency(trials)
		if err != nil {
			t.Fatal(err)
		}
		want := db(2 * math.Erfinv(2*(share-0.01)/0.98-1) / d)
		if math.Abs(float64(e.DB)-want) > 0.02 {
			t.Errorf("%g right: efficiency %.4f dB, want %.4f", share, float64(e.DB), want)
		}
		for _, end := range []level.DB{e.Low, e.High} {
			p := right(end)
			ratio := 2 * n * (share*math.Log(share/p) + (1-share)*math.Log((1-share)/(1-p)))
			if math.Abs(ratio/(1.959964*1.959964)-1) > 0.02 {
				t.Errorf("%g right: likelihood ratio %.3f at %.3f dB, want 3.841", share, ratio, float64(end))
			}
		}
	}
}

// What cannot be fitted is refused, and answers without a limit leave the interval
// open on that side.
func TestFitRefusals(t *testing.T) {
	for _, bad := range [][]Trial{nil, {{DPrime: 0}}, {{DPrime: math.NaN()}}, {{DPrime: -1}}, {{DPrime: 1, Task: taskCount}}} {
		if _, err := FitEfficiency(bad); err == nil {
			t.Errorf("%+v accepted", bad)
		}
	}
	var right []Trial
	for range 20 {
		right = append(right, Trial{1, TwoIntervals, true})
	}
	e, err := FitEfficiency(right)
	if err != nil || e.High != MaximumEfficiency || e.Low < -3 {
		t.Errorf("all right: %+v, %v", e, err)
	}
}

func profile() *Profile {
	return &Profile{Model: ModelVersion, Efficiency: Efficiency{DB: -1.8, Low: -2.9, High: -0.7, Trials: 150}, Date: time.Date(2026, 11, 27, 0, 0, 0, 0, time.UTC)}
}

// What is written reads back.
func TestProfileRoundTrip(t *testing.T) {
	var b bytes.Buffer
	if err := profile().Write(&b); err != nil {
		t.Fatal(err)
	}
	got, err := ReadProfile(&b, "x.toml")
	if err != nil || got != *profile() {
		t.Errorf("%+v, %v", got, err)
	}
}

// Every refusal names file and key.
func TestProfileRefusals(t *testing.T) {
	var b bytes.Buffer
	if err := profile().Write(&b); err != nil {
		t.Fatal(err)
	}
	good := b.String()
	for _, c := range []struct{ old, new, key string }{
		{"trials = 150", "trials = 0", "trials"},
		{"trials = 150", "trials = 1.5", "trials"},
		{"trials = 150\n", "", "trials"},
		{"efficiency_db = -1.80", "efficiency_db = -31.0", "efficiency_db"},
		{"efficiency_db = -1.80", "efficiency_db = nan", "efficiency_db"},
		{"efficiency_db = -1.80", `efficiency_db = "-1.8"`, "efficiency_db"},
		{"low_db = -2.90", "low_db = -1.0", "low_db"},
		{"high_db = -0.70", "high_db = -2.0", "high_db"},
		{`date = "2026-11-27"`, `date = "27.11.2026"`, "date"},
		{`model = "` + ModelVersion + `"`, `model = "1999-01-01"`, "model"},
		{"trials = 150", "trials = 150\nage = 40", "age"},
		{"trials = 150", "trials = 150\nTrials = 150", "Trials"},
	} {
		text := strings.Replace(good, c.old, c.new, 1)
		if text == good {
			t.Fatalf("%q is not in %q", c.old, good)
		}
		_, err := ReadProfile(strings.NewReader(text), "x.toml")
		var refused *FileError
		if !errors.As(err, &refused) || refused.Key != c.key || refused.File != "x.toml" {
			t.Errorf("%q: %v", c.new, err)
		}
	}
	for _, text := range []string{"model = ", strings.Repeat("#", maximumProfile+1)} {
		if _, err := ReadProfile(strings.NewReader(text), "x.toml"); err == nil {
			t.Errorf("%.20q accepted", text)
		}
	}
}
