//go:build unix

package survey

import (
	"fmt"
	"syscall"
	"testing"

	"quietcross/corpus/signal"
	"quietcross/dsp/planar"
	"quietcross/stage"
)

// processorSeconds is the processor time that this process took.
func processorSeconds(b *testing.B) float64 {
	b.Helper()
	var usage syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &usage); err != nil {
		b.Skip(err)
	}
	return float64(usage.Utime.Sec+usage.Stime.Sec) + 1e-6*float64(usage.Utime.Usec+usage.Stime.Usec)
}

// BenchmarkExcerpt hears excerpts of 10 s through pair-12w, whose laws are solved, and
// reports the processor time of one. Two processors that have nothing else to do hear
// 120 s over that in a minute.
func BenchmarkExcerpt(b *testing.B) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		b.Fatal(err)
	}
	o := DefaultOptions(spec)
	s, err := newSearcher(&o)
	if err != nil {
		b.Fatal(err)
	}
	for _, name := range []string{"soft-wind", "quiet-chord"} { // one channel, two
		m, err := signal.Lookup(name)
		if err != nil {
			b.Fatal(err)
		}
		audio, err := m.Generate(48000, 1)
		if err != nil {
			b.Fatal(err)
		}
		e := heard{Excerpt: Excerpt{Kind: KindWhole}, name: name, audio: planar.Audio(audio).Cut(0, 480000), rate: 48000}
		b.Run(fmt.Sprintf("%d channels", len(audio)), func(b *testing.B) {
			if _, err := s.hear(b.Context(), 0, e); err != nil { // solves the laws
				b.Fatal(err)
			}
			before := processorSeconds(b)
			for b.Loop() {
				if _, err := s.hear(b.Context(), 0, e); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric((processorSeconds(b)-before)/float64(b.N), "cpu-s/excerpt")
		})
	}
}

// BenchmarkLibrary surveys libraries of tiny recordings, with something cheap in place of
// the search, whose cost does not depend on the library: what listing, reading, choosing,
// keeping and concluding cost a recording, as processor time.
func BenchmarkLibrary(b *testing.B) {
	for _, count := range []int{100, 1000, 5000} {
		b.Run(fmt.Sprint(count), func(b *testing.B) {
			library := b.TempDir()
			tinyLibrary(b, library, count)
			o := options(b)
			before := processorSeconds(b)
			for b.Loop() {
				if _, err := Run(b.Context(), b.TempDir(), []string{library}, o); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(1000*(processorSeconds(b)-before)/float64(b.N)/float64(count), "cpu-ms/recording")
		})
	}
}
