package audibility_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"quietcross/reports/audibility"
)

// A toy stage whose only fault is a third harmonic that falls with the current.
func ExampleExamine() {
	c := audibility.Case{
		Material: "tone", Level: -30,
		Open: func(context.Context) ([][]float64, audibility.Render, error) {
			ref := tone(0)
			return [][]float64{ref}, func(_ context.Context, quiescent float64) (audibility.Rendering, error) {
				return audibility.Rendering{Test: [][]float64{tone(1e-5 / quiescent)}, Bias: 1.2}, nil
			}, nil
		},
	}
	f, err := audibility.Examine(context.Background(), c, audibility.DefaultOptions(1e-5, 0.1))
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(f.Summary)
	fmt.Println(f.Curve[0].Verdict)
	// Output:
	// tone at -30 dB: predicted audible below 5.32mA (expected from 3.09mA to 9.16mA; bias 1.2 V) and not above; for a full-scale sine at 92 dB SPL, a room of NR 15, the listener of published thresholds; a blind test is the judge
	// predicted audible within the first second, at 0.0 s; for a full-scale sine at 92 dB SPL, a room of NR 15, the listener of published thresholds; a blind test is the judge
}

func tone(third float64) []float64 {
	x := make([]float64, 48000)
	for i := range x {
		phase := 2 * math.Pi * 440 * float64(i) / 48000
		x[i] = 0.03 * (math.Sin(phase) + third*math.Sin(3*phase))
	}
	return x
}
