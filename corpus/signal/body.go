package signal

// body holds the resonances of the instrument's air and plates: frequency, Q
// and weight. The sizes are common practice for a guitar.
var body = []struct{ hz, q, weight float64 }{
	{102, 14, 0.8},
	{204, 20, 0.8},
	{263, 18, 0.5},
	{378, 24, 0.45},
	{446, 28, 0.35},
	{531, 26, 0.35},
	{668, 22, 0.3},
	{905, 16, 0.3},
	{1370, 10, 0.3},
	{2480, 5, 0.25},
}

// resonate passes x through the body.
func resonate(x []float64) {
	direct := lowPass(5200, 0.6)
	modes := make([]biquad, len(body))
	for i, m := range body {
		modes[i] = bandPass(m.hz, m.q)
	}
	for i, v := range x {
		y := 0.45 * direct.step(v)
		for m := range modes {
			y += body[m].weight * modes[m].step(v)
		}
		x[i] = y
	}
}
