package corpus

import "fmt"

// AllWarnings returns the set's warnings, those of its items, and one for each
// track that was clipped or driven beyond the solved range, each with the place
// that it concerns.
func (m *Manifest) AllWarnings() []string {
	warnings := append([]string(nil), m.Warnings...)
	for i := range m.Items {
		item := &m.Items[i]
		for _, w := range item.Warnings {
			warnings = append(warnings, item.ID+": "+w)
		}
		warnings = append(warnings, item.Reference.warnings()...)
		for _, r := range item.Renderings {
			warnings = append(warnings, r.warnings()...)
			warnings = append(warnings, r.Residual.warnings()...)
			if r.OutOfRange > 0 {
				warnings = append(warnings, fmt.Sprintf("%s: %d oversampled inputs lay beyond the range over which the stage was solved", r.File, r.OutOfRange))
			}
		}
	}
	return warnings
}

func (t *Track) warnings() []string {
	if t.Clipped == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s: %d samples were clipped to the format's range", t.File, t.Clipped)}
}
