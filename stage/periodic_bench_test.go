//go:build unix

package stage

import (
	"fmt"
	"math"
	"syscall"
	"testing"
)

// userSeconds is the processor time that this process took in user mode.
func userSeconds(b *testing.B) float64 {
	b.Helper()
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
		b.Skip(err)
	}
	return float64(usage.Utime.Sec) + float64(usage.Utime.Usec)*1e-6
}

// BenchmarkPeriodic goes from level to level, 31 of them in steps of 2 dB from the
// drive down, and reports the user time of a point with its harmonics up to 20 kHz.
func BenchmarkPeriodic(b *testing.B) {
	for _, name := range []string{"pair-12w", "pair-12w-speaker", "pair-12w-feedback", "pair-12w-driven", "push-pull-divider", "push-pull-driven"} {
		for _, setting := range []Setting{AsBuilt(), Quiescent(0.02), Bias(1.2), Bias(0)} {
			for _, hertz := range []float64{100, 1000, 15000} {
				b.Run(fmt.Sprintf("%s/%v/%g", name, setting, hertz), func(b *testing.B) {
					benchmarkLevels(b, name, setting, hertz)
				})
			}
		}
	}
}

func benchmarkLevels(b *testing.B, name string, setting Setting, hertz float64) {
	biased := benchmarkStage(b, name, setting)
	const levels = 31
	before, points, steps := userSeconds(b), 0, 0
	for b.Loop() {
		p, err := biased.Periodic()
		if err != nil {
			b.Fatal(err)
		}
		for i := range levels {
			steady, err := p.Solve(hertz, Tone{Order: 1, Peak: biased.Drive() * math.Pow(10, -0.1*float64(i))})
			if err != nil {
				b.Fatal(err)
			}
			steady.Harmonics(int(20e3 / hertz))
			points++
			steps += steady.Steps()
		}
	}
	b.ReportMetric((userSeconds(b)-before)/float64(points)*1e3, "user-ms/point")
	b.ReportMetric(float64(steps)/float64(points), "steps")
}

func benchmarkStage(b *testing.B, name string, setting Setting) *Biased {
	b.Helper()
	spec, err := Lookup(name)
	if err != nil {
		b.Fatal(err)
	}
	s, err := New(spec)
	if err != nil {
		b.Fatal(err)
	}
	biased, err := s.Set(setting)
	if err != nil {
		b.Fatal(err)
	}
	return biased
}

// BenchmarkPeriodicTwoTones solves for the inputs that intermodulation is measured with,
// with 2 dB from point to point.
func BenchmarkPeriodicTwoTones(b *testing.B) {
	for _, pair := range []struct {
		base       float64
		low, high  int
		ratio      float64 // of the low tone to the high one
		lowest, to int     // orders looked at
	}{
		{250, 1, 32, 4, 0, 80},
		{20, 3, 350, 4, 340, 360},
		{1000, 19, 20, 1, 0, 40},
	} {
		for _, name := range []string{"pair-12w", "pair-12w-speaker", "pair-12w-feedback"} {
			for _, setting := range []Setting{Quiescent(0.02), Bias(0)} {
				title := fmt.Sprintf("%g+%gHz/%s/%v", pair.base*float64(pair.low), pair.base*float64(pair.high), name, setting)
				b.Run(title, func(b *testing.B) {
					biased := benchmarkStage(b, name, setting)
					p, err := biased.Periodic()
					if err != nil {
						b.Fatal(err)
					}
					var orders []int
					for k := pair.lowest; k <= pair.to; k++ {
						orders = append(orders, k)
					}
					before, points := userSeconds(b), 0
					for b.Loop() {
						peak := biased.Drive() * math.Pow(10, -0.1*float64(points%8))
						low := peak * pair.ratio / (1 + pair.ratio)
						steady, err := p.Solve(pair.base, Tone{Order: pair.low, Peak: low}, Tone{Order: pair.high, Peak: peak - low})
						if err != nil {
							b.Fatal(err)
						}
						steady.Lines(orders...)
						points++
					}
					b.ReportMetric((userSeconds(b)-before)/float64(points)*1e3, "user-ms/point")
				})
			}
		}
	}
}
