package hearing

import (
	"math"
	"math/rand/v2"
	"sync"
)

// Calibration. The internal noise of each band is set so that a tone of one second
// at the standard's threshold in quiet, at the band's centre, gives d' of 1 with all
// bands that it reaches; and the fluctuation that Gaussian noise has in each band, and
// what of its mean energy masks, its dips being there to listen in, are measured once, on
// seeded noise through the model's own windows.

const (
	calibrationTime  = 1.0 // s
	calibrationNoise = 4.0 // s
)

type tableKey struct {
	constants constants
	rate      float64
}

var tableCache sync.Map

// tablesFor returns the tables of a rate, made once.
func tablesFor(c constants, rate float64) *tables {
	key := tableKey{c, rate}
	if t, ok := tableCache.Load(key); ok {
		return t.(*tables)
	}
	t, _ := tableCache.LoadOrStore(key, newTables(c, rate))
	return t.(*tables)
}

func newTables(c constants, rate float64) *tables {
	t := &tables{constants: c, rate: rate, step: int(math.Round(stepTime * rate))}
	from := 0
	for i := range t.levels {
		t.levels[i] = newResolution(&t.constants, rate, i, from)
		from = t.levels[i].to
	}
	for b := range t.noise {
		t.noise[b], t.ripple[b] = 1, 1
		t.narrow[b] = math.Pow(erbWidth(1000)/erbWidth(bandFrequency(b)), c.noiseFall)
	}
	t.measureRipple()
	t.fitNoise()
	return t
}

// fitNoise finds the internal noise.
func (t *tables) fitNoise() {
	var response [bandCount][bandCount]float64 // [tone][band]
	for tone := range response {
		t.respond(&response[tone], bandFrequency(tone))
	}
	looks := t.constants.steadyLooks(calibrationTime)
	for range 40 {
		for tone := range response {
			evidence := 0.0
			for b, e := range response[tone] {
				x := e / t.noise[b] / t.constants.step
				evidence += bandStep * x * x
			}
			t.noise[tone] *= math.Sqrt(math.Sqrt(evidence * looks))
		}
	}
}

// respond writes the excitation that a steady tone at the threshold in quiet causes.
func (t *tables) respond(dst *[bandCount]float64, f float64) {
	a := newAnalyser(t, 0)
	buffer := make([]float64, len(t.levels[0].window))
	amplitude := QuietThreshold(f).Amplitude()
	for i := range buffer {
		buffer[i] = amplitude * math.Sin(2*math.Pi*f*float64(i)/t.rate+1)
	}
	c := new(cells)
	a.analyse(c, buffer)
	frames, _ := t.layouts()
	var s slopes
	var one [bandCount]float64
	for k, l := range frames {
		if l.first {
			excite(t, l, &one, &s, &c[k])
			copy(dst[l.from:l.to], one[l.from:l.to])
		}
	}
}

// steadyLooks returns the mean of evidence over looks that a change of unit evidence
// reaches when it has lasted for some time, s.
func (c *constants) steadyLooks(seconds float64) float64 {
	const dt = 1e-3
	change, mean := 0.0, 0.0
	for range int(math.Round(seconds / dt)) {
		change += dt / c.integrate * (1 - change)
		mean += dt / c.looks * (change*change - mean)
	}
	return mean
}

// measureRipple measures the fluctuation and the dips of Gaussian noise.
func (t *tables) measureRipple() {
	random := rand.New(rand.NewPCG(20, 26))
	a, m := newAnalyser(t, 60), newMasker(t, 0)
	g, c := m.newGround(), new(cells)
	buffer := make([]float64, len(t.levels[0].window))
	steps := int(calibrationNoise / stepTime)
	var sum, energy, inverse [bandCount]float64
	frames, _ := t.layouts()
	for n := range steps {
		copy(buffer, buffer[t.step:])
		for i := len(buffer) - t.step; i < len(buffer); i++ {
			buffer[i] = random.NormFloat64()
		}
		m.hear(g, a, c, buffer)
		if n >= steps/4 {
			for b := range sum {
				sum[b] += m.bands[b].ripple
			}
			for _, l := range frames {
				for b := l.from; l.last && b < l.to; b++ {
					energy[b] += g.excitation[l.at+b-l.from]
					inverse[b] += g.inverse[l.at+b-l.from]
				}
			}
		}
	}
	for b := range sum {
		n := float64(steps - steps/4)
		t.ripple[b] = sum[b] / n
		t.dips[b] = n * n / (energy[b] * inverse[b])
	}
}
