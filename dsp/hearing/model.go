package hearing

import "sync"

// model holds the tables that depend on nothing but the standard. It is built
// once and never changes.
type model struct {
	bands    [bandCount]band
	grouping grouping
	outer    [lineCount]float64 // outer- and middle-ear gain of power
	noise    pattern            // internal noise, energy
	mask     pattern            // masked threshold over excitation, ratio
	quiet    pattern            // internal noise under loudnessPower, times 100
	smear    pattern            // forgetting in one hop: smearing
	follow   pattern            // and adaptation and modulation
	spread   *spreading
	loudness *loudness
}

var standard = sync.OnceValue(newModel)

func newModel() *model {
	m := &model{bands: newBands()}
	m.grouping = newGrouping(&m.bands)
	for i := 1; i < lineCount; i++ {
		m.outer[i] = outerEar(float64(i) * lineSpacing).Power()
	}
	for k, b := range m.bands {
		m.noise[k] = internalNoise(b.centre).Power()
		m.mask[k] = (-maskOffset(k)).Power()
		m.quiet[k] = levelWeight * internalLoudness(m.noise[k])
	}
	m.smear = newDecay(&m.bands, smearAt100)
	m.follow = newDecay(&m.bands, followAt100)
	m.spread = newSpreading(&m.bands)
	m.loudness = newLoudness(&m.bands)
	return m
}
