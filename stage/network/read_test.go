package network

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// TestReadingsAgreeToTheBit reads cells of every number of outputs up to three groups, and of
// rows, by vectors and in plain Go, and holds both to sums of the powers in 200 bits.
func TestReadingsAgreeToTheBit(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for outputs := range 3*lanes + 1 {
		for rows := 1; rows <= alongSecond; rows++ {
			p := make([]float64, groups(outputs)*rows*groupRow)
			for o := range outputs {
				for i := range rows * alongFirst {
					p[place(o, rows, i/alongFirst, i%alongFirst)] = rng.NormFloat64()
				}
			}
			x, y := 2*rng.Float64()-1, 2*rng.Float64()-1
			// What lies behind the outputs is not to be touched.
			plain, fast := make([]float64, outputs+1), make([]float64, outputs+1)
			plain[outputs], fast[outputs] = 77, 77
			readPlain(plain[:outputs], p, rows, x, y)
			for o := range outputs {
				if want := powerSum(p, o, rows, x, y); !(math.Abs(plain[o]-want) < 1e-13) {
					t.Errorf("output %d of %d, %d rows: %g, want %g", o, outputs, rows, plain[o], want)
				}
			}
			if !readVectors(fast[:outputs], p, rows, x, y) {
				if hasVectors && outputs > 0 {
					t.Fatalf("%d outputs were not read by vectors", outputs)
				}
				continue
			}
			for i := range fast {
				if math.Float64bits(fast[i]) != math.Float64bits(plain[i]) {
					t.Errorf("output %d of %d, %d rows: %g by vectors, %g in plain Go", i, outputs, rows, fast[i], plain[i])
				}
			}
		}
	}
	if !hasVectors {
		t.Skip("this processor has no vector instructions that are used: plain Go alone was tested")
	}
}

// powerSum is an output by its definition.
func powerSum(p []float64, output, rows int, x, y float64) float64 {
	number := func(v float64) *big.Float { return new(big.Float).SetPrec(200).SetFloat64(v) }
	sum, yj := number(0), number(1)
	for j := range rows {
		power := number(1)
		power.Set(yj)
		for k := range alongFirst {
			term := number(p[place(output, rows, j, k)])
			sum.Add(sum, term.Mul(term, power))
			power.Mul(power, number(x))
		}
		yj.Mul(yj, number(y))
	}
	value, _ := sum.Float64()
	return value
}

// BenchmarkRead reads a cell of two ports, and one of one port.
func BenchmarkRead(b *testing.B) {
	for _, row := range []struct {
		name          string
		outputs, rows int
	}{{"loudspeaker", 4, 6}, {"loop", 5, 1}} {
		c := newCell([2]float64{3, -1}, [2]float64{0.5, 0.5})
		c.rows, c.polynomials = row.rows, make([]float64, groups(row.outputs)*row.rows*groupRow)
		for i := range c.polynomials {
			c.polynomials[i] = 1 / float64(i+1)
		}
		out := make([]float64, row.outputs)
		b.Run(row.name, func(b *testing.B) {
			z := [maximumPorts]float64{3.1, -1.2}
			for b.Loop() {
				c.read(out, z)
				z[0] = 3 + 0.01*out[0]
			}
		})
	}
}
