//go:build unix

package hearing

import (
	"syscall"
	"testing"
	"time"
)

// userTime returns the CPU time that the process has used.
func userTime(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano())
}

// BenchmarkComparison reports how many times real time a stereo comparison goes, in
// CPU time; so does BenchmarkReference for one more test against a reference.
func BenchmarkComparison(b *testing.B) {
	benchmark(b, func(c Config, x, y [][]float64) func() {
		return func() {
			p, err := New(c)
			if err != nil {
				b.Fatal(err)
			}
			p.Process(x, y)
			p.Result()
		}
	})
}

func BenchmarkReference(b *testing.B) {
	benchmark(b, func(c Config, x, y [][]float64) func() {
		r, err := NewReference(c, x)
		if err != nil {
			b.Fatal(err)
		}
		return func() { r.Compare(y) }
	})
}

func benchmark(b *testing.B, prepare func(c Config, x, y [][]float64) func()) {
	const seconds = 12.0
	x := programme(48000, seconds, 0.5)
	y := both(x, func(x []float64) []float64 { return deadZone(x, 1e-3) })
	run := prepare(Config{Rate: 48000, Channels: 2, PlaybackSPL: 92}, x, y)
	start := userTime(b)
	for b.Loop() {
		run()
	}
	used := (userTime(b) - start).Seconds() / float64(b.N)
	b.ReportMetric(seconds/used, "x-real-time")
	b.ReportMetric(used, "s/12s-piece")
}
