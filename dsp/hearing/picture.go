package hearing

import (
	"math"
)

// Records of bounded size. A course and a picture start at one step a place; when
// they are full, neighbours are joined by their maxima and each place holds twice as
// many steps. So an hour is kept in the room of a few seconds or minutes.

const (
	courseLimit  = 1 << 13 // 87 s at full resolution
	columnLimit  = 1 << 9
	pictureBands = bandCount / 2

	// PictureFloor is the least excess that a picture shows, dB.
	PictureFloor = -20
)

// course records moments.
type course struct {
	moments      []Moment
	span, filled int
}

func (c *course) add(m Moment) {
	if c.filled > 0 && c.filled < c.span {
		last := &c.moments[len(c.moments)-1]
		*last = joined(*last, m)
		c.filled++
		return
	}
	if len(c.moments) == courseLimit {
		for i := range courseLimit / 2 {
			c.moments[i] = joined(c.moments[2*i], c.moments[2*i+1])
		}
		c.moments = c.moments[:courseLimit/2]
		c.span *= 2
	}
	c.moments = append(c.moments, m)
	c.filled = 1
}

// joined returns the earlier time and the maxima of two moments.
func joined(a, b Moment) Moment {
	return Moment{a.Time, max(a.DPrime, b.DPrime), max(a.Reference, b.Reference)}
}

func (c *course) series(step float64) Course {
	return Course{Step: step * float64(c.span), Moments: append([]Moment(nil), c.moments...)}
}

// column holds evidence, of bands of one ERB.
type column [pictureBands]float32

// picture records columns.
type picture struct {
	columns      []column
	span, filled int
}

func (p *picture) add(evidence *[bandCount]float64) {
	var c column
	for b := range c {
		c[b] = float32(evidence[2*b] + evidence[2*b+1])
	}
	if p.filled > 0 && p.filled < p.span {
		p.columns[len(p.columns)-1].join(&c)
		p.filled++
		return
	}
	if len(p.columns) == columnLimit {
		for i := range columnLimit / 2 {
			p.columns[i] = p.columns[2*i]
			p.columns[i].join(&p.columns[2*i+1])
		}
		p.columns = p.columns[:columnLimit/2]
		p.span *= 2
	}
	p.columns = append(p.columns, c)
	p.filled = 1
}

func (c *column) join(other *column) {
	for b, e := range other {
		c[b] = max(c[b], e)
	}
}

// drawn returns the picture in decibels.
func (p *picture) drawn(step, gain float64) Picture {
	d := Picture{Step: step * float64(p.span)}
	for b := range pictureBands + 1 {
		d.Edges = append(d.Edges, erbFrequency(firstBand+2*bandStep*float64(b)-bandStep/2))
	}
	for i := range p.columns {
		column := make([]float32, pictureBands)
		for b, e := range p.columns[i] {
			column[b] = PictureFloor
			if e > 0 {
				column[b] = max(PictureFloor, float32(math.Round(10*float64(excess(float64(e), gain)))/10))
			}
		}
		d.Columns = append(d.Columns, column)
	}
	return d
}
