package plot

import (
	"math"
	"strconv"
)

// encode writes polylines as path data in tenths of a px, relative after each
// start, which is about a third of the length of absolute coordinates.
func encode(lines [][]point) string {
	var d []byte
	for _, line := range lines {
		x, y := tenths(line[0].x), tenths(line[0].y)
		d = append(d, 'M')
		d = appendTenths(d, x)
		d = append(d, ' ')
		d = appendTenths(d, y)
		if len(line) == 1 {
			d = append(d, "h0"...)
		}
		for _, p := range line[1:] {
			nx, ny := tenths(p.x), tenths(p.y)
			d = appendMove(d, nx-x, ny-y)
			x, y = nx, ny
		}
	}
	return string(d)
}

func appendMove(d []byte, dx, dy int) []byte {
	switch {
	case dx == 0 && dy == 0:
		return d
	case dy == 0:
		return appendTenths(append(d, 'h'), dx)
	case dx == 0:
		return appendTenths(append(d, 'v'), dy)
	}
	d = appendTenths(append(d, 'l'), dx)
	if dy > 0 {
		d = append(d, ' ')
	}
	return appendTenths(d, dy)
}

func tenths(v float64) int { return int(math.Round(10 * v)) }

func appendTenths(d []byte, v int) []byte {
	if v < 0 {
		d = append(d, '-')
		v = -v
	}
	if v >= 10 || v == 0 {
		d = strconv.AppendInt(d, int64(v/10), 10)
	}
	if v%10 != 0 {
		d = append(d, '.', byte('0'+v%10))
	}
	return d
}

// num writes a coordinate with at most one decimal.
func num(v float64) string { return string(appendTenths(nil, tenths(v))) }
