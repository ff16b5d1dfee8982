//go:build unix

package stage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"

	"quietcross/stage/network"
)

// BenchmarkDynamic moves stages through a second of noise at 16 times 48 kHz, start
// included: soft below 6 kHz, and at full level through the whole band. It gives user time
// a 48 kHz sample.
func BenchmarkDynamic(b *testing.B) {
	const rate = 768e3
	for _, name := range []string{"pair-12w-speaker", "pair-12w-feedback", "push-pull-divider", "pair-12w-driven"} {
		for _, setting := range []Setting{Bias(0), AsBuilt()} {
			biased := benchmarkStage(b, name, setting)
			drive := biased.Drive()
			for _, signal := range []struct {
				name  string
				peak  float64
				hertz float64
			}{{"soft", 0.2 * drive, 6e3}, {"dense", drive, 20e3}} {
				b.Run(fmt.Sprintf("%s/%v/%s", name, setting, signal.name), func(b *testing.B) {
					in := denseNoise(signal.peak, signal.hertz, rate, 1)
					out := make([]float64, len(in))
					begun := userSeconds(b)
					var steps network.Steps
					for b.Loop() {
						d := mustDynamic(b, biased, rate)
						if err := d.Process(out, in); err != nil {
							b.Fatal(err)
						}
						steps = d.Steps()
					}
					b.ReportMetric((userSeconds(b)-begun)/float64(b.N)/48000*1e6, "us/sample")
					b.ReportMetric(float64(steps.Iterations)/float64(steps.Taken), "iterations/step")
					b.ReportMetric(float64(steps.Read)/float64(steps.Taken), "read/step")
					b.ReportMetric(float64(steps.Refined)/float64(steps.Taken), "split/step")
				})
			}
		}
	}
}

// denseNoise is sixty tones, evenly spread up to hertz, in random phases.
func denseNoise(peak, hertz, rate, seconds float64) []float64 {
	const lines = 60
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, int(rate*seconds))
	for line := range lines {
		turn := 2 * math.Pi * hertz * (float64(line) + rng.Float64()) / lines / rate
		phase := 2 * math.Pi * rng.Float64()
		for i := range x {
			x[i] += math.Sin(turn*float64(i) + phase)
		}
	}
	floats.Scale(peak/floats.Norm(x, math.Inf(1)), x)
	return x
}
