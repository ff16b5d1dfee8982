package plot

import (
	"bytes"
	"image"
	"image/png"
	"math"
	"testing"
)

// A field that is strong at 1 kHz only has to show its dark row where the axis
// has 1 kHz: counted in pixels of the decoded image.
func TestHeatRowStandsAtItsFrequency(t *testing.T) {
	axis := Axis{Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: 20000}
	const rows, cols = 150, 40
	h := &Heat{Cols: cols, Rows: rows, Lo: -120, Hi: 0, Z: make([]float32, rows*cols)}
	tone := int(axis.Position(1000) * rows)
	for i := range h.Z {
		h.Z[i] = -120
		if i/cols == tone {
			h.Z[i] = -3
		}
	}
	img, err := png.Decode(bytes.NewReader(h.PNG()))
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds() != image.Rect(0, 0, cols, rows) {
		t.Fatalf("image of %v", img.Bounds())
	}
	darkest := darkestRow(img)
	lo := axis.Value(1 - float64(darkest+1)/rows)
	hi := axis.Value(1 - float64(darkest)/rows)
	if lo > 1000 || hi < 1000 {
		t.Errorf("the darkest row spans %.0f to %.0f Hz", lo, hi)
	}
}

func darkestRow(img image.Image) int {
	row, minimum := 0, uint32(math.MaxUint32)
	for y := range img.Bounds().Dy() {
		r, g, b, _ := img.At(7, y).RGBA()
		if sum := r + g + b; sum < minimum {
			row, minimum = y, sum
		}
	}
	return row
}

// Equal steps of value have to be equal distances in OKLab, lightness has to
// fall all the way, and no colour may leave sRGB.
func TestColourMapIsUniform(t *testing.T) {
	const fine = 1000
	for i := range fine + 1 {
		r, g, b := route(float64(i) / fine).linear()
		for _, v := range []float64{r, g, b} {
			if v < -1e-3 || v > 1+1e-3 {
				t.Fatalf("t = %g leaves sRGB: %.3f %.3f %.3f", float64(i)/fine, r, g, b)
			}
		}
	}
	var distances []float64
	palette := colourMap()
	for i := 1; i < len(palette); i++ {
		a, b := labOf(palette[i-1]), labOf(palette[i])
		if b.l >= a.l {
			t.Errorf("lightness rises from shade %d to %d", i-1, i)
		}
		distances = append(distances, a.distance(b))
	}
	mean := 0.0
	for _, d := range distances {
		mean += d / float64(len(distances))
	}
	for i, d := range distances {
		// Rounding to 8 bits moves a colour by up to about 0.002.
		if math.Abs(d-mean) > 0.25*mean {
			t.Errorf("step %d is %.4f, the mean is %.4f", i, d, mean)
		}
	}
}

func TestHeatPanicsOnWrongSize(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	(&Heat{Cols: 2, Rows: 2, Z: make([]float32, 3), Lo: 0, Hi: 1}).PNG()
}
