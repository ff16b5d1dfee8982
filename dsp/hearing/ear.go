package hearing

import "math"

// sensation is what the model keeps of one frame of one signal in one channel.
type sensation struct {
	lines      [lineCount]float64 // magnitude of the spectral lines, before the ear
	excitation pattern            // smeared over frequency and time, energy
	level      pattern            // natural logarithm of excitation
	depth      pattern            // modulation depth
	mean       pattern            // mean simplified loudness
	energy     float64            // sum of squares of the frame's second half
}

// ear follows one signal in one channel from frame to frame.
type ear struct {
	model    *model
	power    [lineCount]float64
	past     pattern
	envelope envelope
}

// hear runs the ear model on one frame (BS.1387, 2.1 and 3.2).
func (e *ear) hear(dst *sensation, a *analyser, frame []float64) {
	a.lines(&dst.lines, frame)
	for i, m := range dst.lines {
		e.power[i] = m * m * e.model.outer[i]
	}
	var spread pattern
	e.model.grouping.sum(&spread, &e.power)
	for k := range spread {
		spread[k] += e.model.noise[k]
	}
	e.model.spread.apply(&spread, &spread)
	smear(&dst.excitation, &e.past, &e.model.smear, &spread)
	for k, x := range dst.excitation {
		dst.level[k] = math.Log(x)
	}
	e.envelope.add(&dst.depth, &dst.mean, &e.model.follow, &spread)
	dst.energy = sumOfSquares(frame[frameLength-hop : frameLength])
}

func sumOfSquares(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}
