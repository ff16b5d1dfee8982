package plot

import (
	"image/color"
	"math"
)

// shades is the count of colours of a heat map; few of them keep the images
// small, and steps this fine are still narrower than a reader can tell apart on
// the colour bar.
const shades = 64

// colourMap runs from near white (nothing) to near black (most), through
// yellow-green, teal and violet. Lightness falls linearly, and the hue turns so
// that equal steps of value are equal distances in the OKLab space (B. Ottosson,
// "A perceptual color space for image processing", 2020; matrices from that
// text, from memory).
func colourMap() color.Palette {
	const fine = 4096
	arc := make([]float64, fine+1)
	previous := route(0)
	for i := 1; i <= fine; i++ {
		here := route(float64(i) / fine)
		arc[i] = arc[i-1] + here.distance(previous)
		previous = here
	}
	palette := make(color.Palette, shades)
	k := 0
	for i := range palette {
		want := arc[fine] * float64(i) / (shades - 1)
		for k < fine && arc[k+1] < want {
			k++
		}
		palette[i] = route(float64(k) / fine).rgb()
	}
	return palette
}

// oklab is a colour in the OKLab space: lightness 0 to 1 and two opponent axes.
type oklab struct{ l, a, b float64 }

func (c oklab) distance(d oklab) float64 {
	return math.Sqrt((c.l-d.l)*(c.l-d.l) + (c.a-d.a)*(c.a-d.a) + (c.b-d.b)*(c.b-d.b))
}

// route is the path of the colour map, t from 0 to 1.
func route(t float64) oklab {
	hue := (110 + 190*t) * math.Pi / 180
	chroma := 0.10 * math.Sin(math.Pi*math.Pow(t, 0.8))
	return oklab{0.985 - 0.80*t, chroma * math.Cos(hue), chroma * math.Sin(hue)}
}

// linear returns linear-light sRGB, unbounded.
func (c oklab) linear() (r, g, b float64) {
	cube := func(v float64) float64 { return v * v * v }
	l := cube(c.l + 0.3963377774*c.a + 0.2158037573*c.b)
	m := cube(c.l - 0.1055613458*c.a - 0.0638541728*c.b)
	s := cube(c.l - 0.0894841775*c.a - 1.2914855480*c.b)
	return 4.0767416621*l - 3.3077115913*m + 0.2309699292*s,
		-1.2684380046*l + 2.6097574011*m - 0.3413193965*s,
		-0.0041960863*l - 0.7034186147*m + 1.7076147010*s
}

func (c oklab) rgb() color.RGBA {
	r, g, b := c.linear()
	return color.RGBA{gamma(r), gamma(g), gamma(b), 255}
}

// gamma is the transfer function of sRGB (IEC 61966-2-1), to 8 bits.
func gamma(v float64) uint8 {
	v = min(max(v, 0), 1)
	if v <= 0.0031308 {
		v *= 12.92
	} else {
		v = 1.055*math.Pow(v, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}
