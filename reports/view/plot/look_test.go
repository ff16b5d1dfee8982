package plot

import (
	"image/color"
	"math"
	"strconv"
	"testing"
)

func parse(t *testing.T, hex string) color.RGBA {
	t.Helper()
	v, err := strconv.ParseUint(hex[1:], 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

func light(c color.Color) (r, g, b float64) {
	linear := func(v uint32) float64 {
		x := float64(v>>8) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	ri, gi, bi, _ := c.RGBA()
	return linear(ri), linear(gi), linear(bi)
}

func labOfLight(r, g, b float64) oklab {
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return oklab{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}

func labOf(c color.Color) oklab { return labOfLight(light(c)) }

// Contrast of graphical objects against their background: at least 3 to 1
// (WCAG 2.1, success criterion 1.4.11; luminance and ratio as defined there).
func TestPaletteContrast(t *testing.T) {
	for dark, colours := range [][8]string{palette, darkPalette} {
		background := luminance(parse(t, inks["paper"][dark]))
		for _, hex := range colours {
			y := luminance(parse(t, hex))
			ratio := (max(y, background) + 0.05) / (min(y, background) + 0.05)
			if ratio < 3 {
				t.Errorf("%s on %s: contrast %.2f", hex, inks["paper"][dark], ratio)
			}
		}
	}
}

func luminance(c color.Color) float64 {
	r, g, b := light(c)
	return 0.2126*r + 0.7152*g + 0.0722*b
}

// The matrices are those of Machado, Oliveira and Fernandes, "A physiologically-based
// model for simulation of color vision deficiency", IEEE TVCG 15(6), 2009, at
// severity 1, from memory.
var blindness = map[string][9]float64{
	"none":   {1, 0, 0, 0, 1, 0, 0, 0, 1},
	"protan": {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
	"deutan": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
	"tritan": {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
}

// Any two colours stay at least 0.09 apart in OKLab for every kind of sight; a
// just noticeable difference is near 0.02. Neighbours differ by at least 10
// units of CIE lightness, which is what greyscale print keeps.
func TestPaletteDistances(t *testing.T) {
	for _, colours := range [][8]string{palette, darkPalette} {
		for sight, m := range blindness {
			for i := range colours {
				for j := range i {
					a, b := seen(parse(t, colours[i]), m), seen(parse(t, colours[j]), m)
					if d := a.distance(b); d < 0.09 {
						t.Errorf("%s and %s, sight %s: %.3f apart", colours[i], colours[j], sight, d)
					}
				}
			}
		}
		for i := 1; i < len(colours); i++ {
			if d := math.Abs(lightness(parse(t, colours[i])) - lightness(parse(t, colours[i-1]))); d < 10 {
				t.Errorf("%s and %s: %.1f of lightness apart", colours[i-1], colours[i], d)
			}
		}
	}
}

func seen(c color.Color, m [9]float64) oklab {
	r, g, b := light(c)
	bound := func(v float64) float64 { return min(max(v, 0), 1) }
	return labOfLight(bound(m[0]*r+m[1]*g+m[2]*b), bound(m[3]*r+m[4]*g+m[5]*b), bound(m[6]*r+m[7]*g+m[8]*b))
}

// lightness is L* of CIE 1976.
func lightness(c color.Color) float64 {
	y := luminance(c)
	if y <= 216.0/24389 {
		return y * 24389 / 27
	}
	return 116*math.Cbrt(y) - 16
}

func TestLooksDiffer(t *testing.T) {
	seen := map[string]int{}
	for i := range 64 {
		l := Look{Index: i}
		swatch := l.Swatch()
		if before, ok := seen[swatch]; ok {
			t.Errorf("looks %d and %d are the same", before, i)
		}
		seen[swatch] = i
	}
}
