package bs1387

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestGradeMapping holds the mapping to two pairs of index and grade that are
// published with the recommendation's conformance test (BS.1387, Annex 2).
func TestGradeMapping(t *testing.T) {
	near(t, "grade of 1.304", grade(1.304), -0.67667, 5e-6)
	near(t, "grade of -3.029", grade(-3.029), -3.78624, 5e-6)
	near(t, "grade of a great index", grade(100), 0.22, 1e-12)
	near(t, "grade of a low index", grade(-100), -3.98, 1e-12)
}

// TestGradeFollowsTheNoise compares a wide-band tone complex with itself and with white
// noise added at rising levels: the grade begins at imperceptible, never rises by
// more than the network's own unevenness, and ends at annoying.
func TestGradeFollowsTheNoise(t *testing.T) {
	const seconds = 3
	random := rand.New(rand.NewPCG(1, 2))
	reference, noise := make([]float64, seconds*Rate), make([]float64, seconds*Rate)
	for n := range reference {
		for k := 1; k <= 70; k++ {
			reference[n] += 0.02 / math.Sqrt(float64(k)) * math.Sin(2*math.Pi*220*float64(k*n)/Rate+float64(k*k))
		}
		noise[n] = random.NormFloat64()
	}
	last := math.Inf(1)
	for _, level := range []float64{math.Inf(-1), -110, -80, -70, -60, -50, -40} {
		test := make([]float64, len(reference))
		for n := range test {
			test[n] = reference[n] + math.Pow(10, level/20)*noise[n]
		}
		c, err := NewComparator(Config{Rate: Rate, Channels: 1})
		if err != nil {
			t.Fatal(err)
		}
		c.Add([][]float64{reference}, [][]float64{test})
		result := c.Result()
		got, ok := result.Grade()
		if !ok {
			t.Fatal("a wide-band reference has no grade")
		}
		t.Logf("noise at %g dB: index %.3f, grade %.3f", level, result.DistortionIndex(), got)
		switch {
		case math.IsNaN(got):
			t.Fatalf("noise at %g dB: the grade is not a number", level)
		case level < -100 && got < 0:
			t.Errorf("noise at %g dB: grade %.3f, want 0 or more", level, got)
		case got > last+0.05:
			t.Errorf("noise at %g dB: the grade rises from %.3f to %.3f", level, last, got)
		}
		last = got
	}
	if last > -2 {
		t.Errorf("noise at -40 dB: grade %.3f, want under -2", last)
	}
}

// TestNoGradeWithoutBandwidth drowns the reference in noise up to the top of the
// spectrum, above which no frame then has a bandwidth.
func TestNoGradeWithoutBandwidth(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	x := sine(Rate, 0.01, 2600)
	noisy := make([]float64, len(x))
	for n := range x {
		noisy[n] = x[n] + 0.03*random.NormFloat64()
	}
	c, err := NewComparator(Config{Rate: Rate, Channels: 1})
	if err != nil {
		t.Fatal(err)
	}
	c.Add([][]float64{x}, [][]float64{noisy})
	result := c.Result()
	if grade, ok := result.Grade(); ok {
		t.Errorf("grade %g, want none", grade)
	}
}
