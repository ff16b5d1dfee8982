package bs1387

import (
	"cmp"
	"math"
	"slices"

	"quietcross/dsp/level"
)

// Distortion products one by one: peaks in the spectrum of the difference of the two
// signals, measured against the threshold in quiet and the mask of the programme in
// their band, and joined from frame to frame into tracks.

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

// nearest is the number of lines on either side over which a peak must be the
// largest; the main lobe of a Hann window is four lines wide.
const nearest = 3

// lobe is the energy of the main lobe of a tone over the square of its largest
// line where that is minimum, half-way between lines: 1.5/(8/(3π))².
var lobe = 1.5 / math.Pow(8/(3*math.Pi), 2)

// isPeak reports whether line i is the largest of its neighbourhood. Of equals
// the first counts, and nothing is not a peak.
func isPeak(lines *[lineCount]float64, i int) bool {
	for d := 1; d <= nearest; d++ {
		if lines[i-d] >= lines[i] || lines[i+d] > lines[i] {
			return false
		}
	}
	return true
}

// product describes the tone at peak i: its frequency, its level from the energy
// of the main lobe, and how far it stands over the threshold in quiet and over
// the mask of the programme in the band it falls in.
func (m *model) product(lines *[lineCount]float64, i int, programme *sensation) Product {
	energy := sumOfSquares(lines[i-2 : i+3])
	f := (float64(i) + offset(lines[i-1], lines[i], lines[i+1])) * lineSpacing
	p := Product{Frequency: f, Level: level.FromPower(energy / lobe)}
	p.OverThreshold = p.Level - AbsoluteThreshold(f)
	k := bandAt(f)
	p.OverMask = level.FromPower(energy * m.outer[i] / (programme.excitation[k] * m.mask[k]))
	return p
}

// offset returns where between lines a tone lies under a Hann window, -0.5 to
// 0.5 lines from the largest, from it and its neighbours:
// (2a - 1)/(a + 1), a the larger neighbour over the largest.
func offset(below, largest, above float64) float64 {
	a := max(below, above) / largest
	d := (2*a - 1) / (a + 1)
	if below > above {
		return -d
	}
	return d
}

// bandAt returns the band that holds f, or the nearest one.
func bandAt(f float64) int {
	k := int((bark(f) - bark(bandLow)) / bandWidth)
	return max(0, min(bandCount-1, k))
}

// A product seen again within gapFrames, and within driftHertz or driftPart of
// its frequency, is the same product. These three are this project's choice.
const (
	gapFrames  = 4
	driftHertz = 1.5 * lineSpacing
	driftPart  = 0.02
)

// track is a product that may still be going on.
type track struct {
	product Product
	at      float64 // frequency where it was last seen
	last    int     // frame where it was last seen
}

// tracker joins the peaks of successive frames of one channel.
type tracker struct {
	open     []track
	finished []Product
}

// see notes a peak of frame n if it stands above both thresholds.
func (t *tracker) see(n int, p Product) {
	if !(p.OverThreshold > 0 && p.OverMask > 0) {
		return
	}
	p.Start, p.End = hopTime*float64(n), hopTime*float64(n+2)
	i := t.find(n, p.Frequency)
	if i < 0 {
		t.open = append(t.open, track{p, p.Frequency, n})
		return
	}
	known := &t.open[i]
	known.at, known.last = p.Frequency, n
	p.Start = known.product.Start
	if p.OverMask > known.product.OverMask {
		known.product = p
	}
	known.product.End = p.End
}

// find returns the open track nearest to f that frame n has not used, or -1.
func (t *tracker) find(n int, f float64) int {
	best, minimum := -1, max(driftHertz, driftPart*f)
	for i, k := range t.open {
		if d := math.Abs(k.at - f); k.last < n && d < minimum {
			best, minimum = i, d
		}
	}
	return best
}

// ended takes out the tracks that frame n is too late for. The result is valid
// until the next call.
func (t *tracker) ended(n int) []Product {
	t.finished = t.finished[:0]
	t.open = slices.DeleteFunc(t.open, func(k track) bool {
		over := n-k.last >= gapFrames
		if over {
			t.finished = append(t.finished, k.product)
		}
		return over
	})
	slices.SortFunc(t.finished, func(a, b Product) int { return cmp.Compare(a.Frequency, b.Frequency) })
	return t.finished
}
