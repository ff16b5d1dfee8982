package report

import (
	"math"

	"quietcross/reports/audibility"
)

// Correlation sets one simple number of renderings against what is predicted to
// be heard of them.
type Correlation struct {
	// Number is the name of the simple number: that of its field.
	Number string `json:"number"`
	// Points is how many renderings have both.
	Points int `json:"points"`
	// Rho is Spearman's rank correlation of the number with d', -1 to 1.
	Rho float64 `json:"rho"`
}

// SimpleNumber is a figure of a rendering that more or less tells what is heard.
type SimpleNumber struct {
	// Name is that of a [Correlation].
	Name string
	// Of returns it; false where a rendering has none.
	Of func(*Rendering) (float64, bool)
}

// SimpleNumbers are set against the prediction, in the order of the report.
var SimpleNumbers = []SimpleNumber{
	{"thd", ofSine(func(s *Sine) float64 { return s.THD })},
	{"weighted_thd", ofSine(func(s *Sine) float64 { return s.WeightedTHD })},
	{"order_weighted", ofSine(func(s *Sine) float64 { return s.OrderWeighted })},
	{"gm", func(r *Rendering) (float64, bool) {
		if r.Sine == nil || r.Sine.Gm == nil {
			return 0, false
		}
		return *r.Sine.Gm, true
	}},
	{"flat_db", ofResidual(func(w *Weighted) float64 { return float64(w.Flat) })},
	{"a_db", ofResidual(func(w *Weighted) float64 { return float64(w.A) })},
	{"noise_468_db", ofResidual(func(w *Weighted) float64 { return float64(w.Noise468) })},
}

func ofSine(of func(*Sine) float64) func(*Rendering) (float64, bool) {
	return func(r *Rendering) (float64, bool) {
		if r.Sine == nil {
			return 0, false
		}
		return of(r.Sine), true
	}
}

func ofResidual(of func(*Weighted) float64) func(*Rendering) (float64, bool) {
	return func(r *Rendering) (float64, bool) {
		if r.Weighted == nil {
			return 0, false
		}
		return of(r.Weighted), true
	}
}

// correlate sets every simple number against d'. A number
// without a correlation (fewer than three renderings, or no variation) is left
// out.
func correlate(renderings []*Rendering) []Correlation {
	var list []Correlation
	for _, number := range SimpleNumbers {
		var x, y []float64
		for _, r := range renderings {
			v, ok := number.Of(r)
			if ok && r.Detection != nil && !math.IsNaN(v) {
				x = append(x, v)
				y = append(y, r.Detection.DPrime)
			}
		}
		if rho, ok := audibility.Spearman(x, y); ok {
			list = append(list, Correlation{number.Name, len(x), rho})
		}
	}
	return list
}

// pool correlates over all renderings of all programme together: does the number
// still tell what is heard when material and level change?
func (r *Report) pool() []Correlation {
	var all []*Rendering
	for i := range r.Items {
		all = append(all, r.Items[i].all()...)
	}
	return correlate(all)
}

func (item *Item) all() []*Rendering {
	list := make([]*Rendering, len(item.Renderings))
	for i := range list {
		list[i] = &item.Renderings[i]
	}
	return list
}
