package audibility

import (
	"context"
	"math"
	"slices"

	"quietcross/dsp/hearing"
)

// A question that looks at more currents once it has seen what was found asks for them on
// the same curves: a session keeps every case open, with what was heard of its reference,
// and adds points. Crossings, threshold and picture stay those that the search found.

// A Session is cases that stay open. Its methods are not to be called at once.
type Session struct {
	options   Options
	cases     []Case
	examiners []*examiner
	findings  []Finding
}

// NewSession opens no case yet: that is done as each comes to its turn.
func NewSession(cases []Case, o Options) *Session {
	o.cases = len(cases)
	return &Session{options: o, cases: cases, examiners: make([]*examiner, len(cases)), findings: make([]Finding, len(cases))}
}

// Search is [Run]; after it currents may be added, or the range be widened and searched
// again: what was rendered is not rendered again.
func (s *Session) Search(ctx context.Context) ([]Finding, error) {
	if err := s.options.Check(); err != nil {
		return nil, err
	}
	search := func(e *examiner) { e.search(ctx) }
	return s.each(ctx, func(i int) (f Finding) {
		if e := s.examiners[i]; e != nil && e.finding.Error == "" {
			e.options = s.options
			e.finding = e.blank(s.cases[i].Material, s.cases[i].Level)
			return e.find(search)
		}
		f, s.examiners[i] = begin(ctx, s.cases[i], s.options, s.options.Standard, search)
		return f
	})
}

// Widen has the next search begin at a lower current, A.
func (s *Session) Widen(low float64) { s.options.Low = low }

// At adds currents to the curves, A, but for those that are on them, and returns all
// findings. A session that was not searched is opened, and its curves are these.
func (s *Session) At(ctx context.Context, currents []float64) ([]Finding, error) {
	return s.put(ctx, currents, func(*examiner, float64) bool { return true })
}

// Decide is At, but adds to each curve only the currents between neighbours that the search
// would not have left as they are: what is heard at the others is read with [Finding.At].
func (s *Session) Decide(ctx context.Context, currents []float64) ([]Finding, error) {
	return s.put(ctx, currents, func(e *examiner, quiescent float64) bool {
		at, _ := e.finding.place(quiescent)
		curve := e.finding.Curve
		return at == 0 || at == len(curve) || !e.decided(&curve[at-1], &curve[at])
	})
}

// put adds the currents to each curve that asks for them.
func (s *Session) put(ctx context.Context, currents []float64, asks func(*examiner, float64) bool) ([]Finding, error) {
	if err := s.options.checkHearing(); err != nil {
		return nil, err
	}
	currents = slices.Clone(currents)
	slices.Sort(currents)
	return s.each(ctx, func(i int) (f Finding) {
		e := s.examiners[i]
		if e == nil {
			f, s.examiners[i] = begin(ctx, s.cases[i], s.options, s.options.Standard, func(e *examiner) { e.draw(ctx, currents) })
			return f
		}
		if e.finding.Error == "" {
			e.add(ctx, slices.DeleteFunc(slices.Clone(currents), func(q float64) bool { return !asks(e, q) }))
		}
		return *e.finding
	})
}

// each works on every case and keeps what was found.
func (s *Session) each(ctx context.Context, find func(i int) Finding) ([]Finding, error) {
	if err := eachOf(ctx, len(s.cases), s.options, func(i int) { s.findings[i] = find(i) }); err != nil {
		return nil, err
	}
	return slices.Clone(s.findings), nil
}

// add puts more points on a curve that is whole, and says again what follows from it.
func (e *examiner) add(ctx context.Context, currents []float64) {
	e.draw(ctx, slices.DeleteFunc(currents, func(q float64) bool {
		_, there := e.finding.place(q)
		return there || e.finding.failed(q)
	}))
	e.conclude()
}

// At returns the point of a curve at a current, A, or what straight lines between its
// neighbours say of bias, d' and detection there, those of d' and current being logarithms,
// and whether it is so read; false where the curve does not reach, or the current was tried
// and has no rendering.
func (f *Finding) At(quiescent float64) (p Point, read, ok bool) {
	at, there := f.place(quiescent)
	switch {
	case there:
		return f.Curve[at], false, true
	case at == 0 || at == len(f.Curve) || f.Curve[at-1].Quiescent == 0 || f.failed(quiescent):
		return Point{}, false, false
	}
	a, b := &f.Curve[at-1], &f.Curve[at]
	d := Along(a, b, quiescent)
	bias := a.Bias + along(a, b, quiescent)*(b.Bias-a.Bias)
	return Point{Quiescent: quiescent, Bias: bias, DPrime: d, Detection: hearing.Detection(d)}, true, true
}

// Read returns the maximum d' of a curve from one current to another, A, 0 < from <= to, by
// straight lines between the logarithms of its points, and the current where that is; false
// unless the curve reaches from below the first to above the second.
func (f *Finding) Read(from, to float64) (dPrime, at float64, ok bool) {
	curve := f.Curve
	if len(curve) == 0 || curve[0].Quiescent > from || curve[len(curve)-1].Quiescent < to {
		return 0, 0, false
	}
	dPrime = math.Inf(-1)
	look := func(d, quiescent float64) {
		if d > dPrime {
			dPrime, at = d, quiescent
		}
	}
	for i := range curve {
		p := &curve[i]
		if p.Quiescent >= from && p.Quiescent <= to {
			look(p.DPrime, p.Quiescent)
		}
		if i == 0 {
			continue
		}
		for _, end := range []float64{from, to} {
			if curve[i-1].Quiescent < end && end < p.Quiescent {
				look(Along(&curve[i-1], p, end), end)
			}
		}
	}
	return dPrime, at, true
}

// Along returns the d' of a straight line in logarithms between two points at a current
// between them, A; that of the greater where a logarithm is none.
func Along(a, b *Point, quiescent float64) float64 {
	if !(a.Quiescent > 0 && a.DPrime > 0 && b.DPrime > 0) {
		return max(a.DPrime, b.DPrime)
	}
	return a.DPrime * math.Pow(b.DPrime/a.DPrime, along(a, b, quiescent))
}

// along is where a current lies between those of two points, as logarithms, 0 to 1.
func along(a, b *Point, quiescent float64) float64 {
	return math.Log(quiescent/a.Quiescent) / math.Log(b.Quiescent/a.Quiescent)
}
