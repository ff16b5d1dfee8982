package audibility

// LastAudible returns the point of the curve with the maximum current below the
// threshold at which the difference is still predicted audible; false when there
// is no threshold.
func (f *Finding) LastAudible() (Point, bool) {
	if f.Threshold == nil {
		return Point{}, false
	}
	for i := len(f.Curve) - 1; i >= 0; i-- {
		if p := f.Curve[i]; p.Quiescent <= f.Threshold.Low && p.Detection > f.Limit {
			return p, true
		}
	}
	return Point{}, false
}
