package shape_test

import (
	"encoding/binary"
	"math"
	"testing"

	"quietcross/dsp/shape"
)

// TestLawTravels holds a law that was written and read to the one it was, to the bit.
func TestLawTravels(t *testing.T) {
	for name, p := range demoPairs() {
		law := mustFit(t, p.law, -40, 40, 4e-6)
		data, err := law.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		var read shape.Law
		if err := read.UnmarshalBinary(data); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if read.Deviation() != law.Deviation() || read.Cells() != law.Cells() {
			t.Errorf("%s: %d cells within %g, were %d within %g", name, read.Cells(), read.Deviation(), law.Cells(), law.Deviation())
		}
		x := programme(5000, 4)
		a, b := make([]float64, len(x)), make([]float64, len(x))
		shape.NewShaper(law).Process(a, x)
		shape.NewShaper(&read).Process(b, x)
		for i := range a {
			if a[i] != b[i] {
				t.Fatalf("%s: sample %d is %g, was %g", name, i, b[i], a[i])
			}
		}
	}
}

// TestNoLaw holds that what is no law is refused, not taken for one.
func TestNoLaw(t *testing.T) {
	law := mustFit(t, demoPairs()["optimum"].law, -40, 40, 4e-6)
	good, err := law.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	number := func(place int, v float64) []byte {
		data := append([]byte(nil), good...)
		binary.LittleEndian.PutUint64(data[8*place:], math.Float64bits(v))
		return data
	}
	for name, data := range map[string][]byte{
		"nothing":      nil,
		"cut":          good[:len(good)-8],
		"not finite":   number(4, math.NaN()),
		"backward":     number(6, -50),
		"not adjoined": number(3+9, -39),
		"no fraction":  number(3, -41),
	} {
		if err := new(shape.Law).UnmarshalBinary(data); err == nil {
			t.Errorf("%s: taken for a law", name)
		}
	}
	if _, err := shape.Linear(2).MarshalBinary(); err == nil {
		t.Error("a linear law was written")
	}
}

// TestSketch holds a sketch of the pairs to their closed form within the tolerance that
// it was asked for, and to few looks.
func TestSketch(t *testing.T) {
	const hi, tol = 40, 4e-6
	for name, p := range demoPairs() {
		looks := 0
		law, err := shape.Sketch(func(x float64) (float64, float64, error) {
			looks++
			return p.law(x)
		}, -hi, hi, tol)
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for i := range 20001 {
			x := hi * math.Pow(float64(i-10000)/10000, 3)
			want, _ := p.at(x)
			worst = max(worst, math.Abs(law.At(x)-want)/max(math.Abs(x)/hi, 1e-3))
		}
		t.Logf("%s: %d looks, %d cells, worst error %.2g of what is allowed", name, looks, law.Cells(), worst/tol)
		if worst > 3*tol || looks > 700 {
			t.Errorf("%s: %d looks, worst error %.2g of what is allowed", name, looks, worst/tol)
		}
	}
}
