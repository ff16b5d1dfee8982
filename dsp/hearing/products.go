package hearing

import (
	"cmp"
	"slices"

	"quietcross/dsp/level"
)

// Product is one distortion product, heard through the programme for a while.
type Product struct {
	// Channel is the index of the channel.
	Channel int `json:"channel"`
	// Frequency is that of the strongest moment, in hertz, interpolated between
	// spectral lines.
	Frequency float64 `json:"frequency_hz"`
	// Start and End bound the time in which the product stands out, in seconds:
	// the start of the first frame and the end of the last.
	Start float64 `json:"start_s"`
	End   float64 `json:"end_s"`
	// Level is the level at the strongest moment, in dB SPL.
	Level level.DB `json:"level_db_spl"`
	// OverThreshold is how far Level stands above the absolute threshold of
	// hearing, and OverMask above the masked threshold of the programme then.
	OverThreshold level.DB `json:"over_threshold_db"`
	OverMask      level.DB `json:"over_mask_db"`
}

// productLimit bounds the list: the products that stand highest over the mask
// are kept.
const productLimit = 256

// Products lists the distortion products that stand above both the absolute
// threshold of hearing (Terhardt's formula) and the masked threshold of the
// programme (BS.1387, 2.1.9). It takes the spectrum of the difference of two
// signals in frames of 42.7 ms, and calls a product what is the largest line of
// its neighbourhood.
//
// It answers which products and when, where the [Comparator] answers whether.
// Products closer than some three lines of 23.4 Hz count as one, and several
// that are each too weak may still be heard together. A difference of gain or
// phase leaves the programme itself in the difference: match levels first.
type Products struct {
	reference *listener
	residue   *framer
	heard     []sensation
	tracks    []tracker
	lines     [lineCount]float64
	scratch   [][]float64
	list      []Product
	dropped   int
	frames    int
}

// NewProducts returns an empty list, or an error if the configuration is outside
// its legal ranges.
func NewProducts(c Config) (*Products, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	p := &Products{
		reference: newListener(c, newAnalyser(c.PlaybackSPL)),
		residue:   newFramer(c.Channels),
		heard:     make([]sensation, c.Channels),
		tracks:    make([]tracker, c.Channels),
		scratch:   make([][]float64, c.Channels),
	}
	for i := range p.scratch {
		p.scratch[i] = make([]float64, frameLength)
	}
	return p, nil
}

// Add examines the next block of both signals, as [Comparator.Add] does.
func (p *Products) Add(ref, test [][]float64) {
	mustMatch("reference", ref, len(p.heard), ref)
	mustMatch("test", test, len(p.heard), ref)
	for offset := 0; offset < len(ref[0]); {
		n := p.reference.framer.take(ref, offset)
		p.residue.take(p.subtract(ref, test, offset, n), 0)
		offset += n
		if p.residue.full() {
			p.frame()
		}
	}
}

// subtract returns n samples of test minus ref in scratch.
func (p *Products) subtract(ref, test [][]float64, offset, n int) [][]float64 {
	for c := range ref {
		p.scratch[c] = p.scratch[c][:n]
		for i := range n {
			p.scratch[c][i] = test[c][offset+i] - ref[c][offset+i]
		}
	}
	return p.scratch
}

// frame looks for products in the full frame and closes those that have ended.
func (p *Products) frame() {
	p.reference.hear(p.heard)
	for c := range p.tracks {
		p.reference.analyser.lines(&p.lines, p.residue.buffer[c][:])
		t := &p.tracks[c]
		for i := nearest; i < lineCount-nearest; i++ {
			if isPeak(&p.lines, i) {
				t.see(p.frames, standard().product(&p.lines, i, &p.heard[c]))
			}
		}
		p.keep(c, t.ended(p.frames))
	}
	p.residue.advance()
	p.frames++
}

// keep adds finished products to the list and drops the weakest of too many.
func (p *Products) keep(channel int, finished []Product) {
	for _, f := range finished {
		f.Channel = channel
		p.list = append(p.list, f)
	}
	if len(p.list) > 2*productLimit {
		p.dropped += len(p.list) - productLimit
		p.list = strongest(p.list)
	}
}

// List returns the products found so far in the order of their start, then of
// frequency, at most 256, and how many weaker ones were left out.
func (p *Products) List() (products []Product, dropped int) {
	all := slices.Clone(p.list)
	for c := range p.tracks {
		for _, t := range p.tracks[c].open {
			t.product.Channel = c
			all = append(all, t.product)
		}
	}
	products = strongest(all)
	dropped = p.dropped + len(all) - len(products)
	slices.SortFunc(products, func(a, b Product) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.Frequency, b.Frequency), cmp.Compare(a.Channel, b.Channel))
	})
	return products, dropped
}

// strongest sorts products by their height over the mask and returns the first
// productLimit of them.
func strongest(products []Product) []Product {
	slices.SortFunc(products, func(a, b Product) int {
		return cmp.Or(cmp.Compare(b.OverMask, a.OverMask), cmp.Compare(a.Start, b.Start),
			cmp.Compare(a.Frequency, b.Frequency), cmp.Compare(a.Channel, b.Channel))
	})
	return products[:min(len(products), productLimit)]
}
