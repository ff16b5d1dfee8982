package stage

// While a control moves, a stage is biased many times a second at settings close to each
// other, and each serves for an instant. Most of what [Stage.Set] does then need not be
// done again: where the trimmed part stands is nearly known from the last setting, and
// the clipping onset, a survey of some 300 solutions, hardly moves.

// trialTolerance is how close a trial comes to its trimmed part, in legs: the current is
// within 1e-5 of that asked for.
const trialTolerance = 1e-7

// Trial biases the stage like [Stage.Set], for as long as a control moves, beginning with
// what it was before: a quiescent current is met within 1e-5 of it, and the clipping
// onsets are those of the setting before. It takes a fraction of Set's time. Where the
// one before is nil or of another stage, or the part is not found from there, it is Set.
func (s *Stage) Trial(setting Setting, before *Biased) (*Biased, error) {
	if before == nil || before.stage != s {
		return s.Set(setting)
	}
	m, ok := s.trialOf(setting, before)
	if !ok {
		return s.Set(setting)
	}
	b, err := s.restAt(setting, m)
	if err != nil {
		return nil, err
	}
	b.clipping = before.clipping
	return b, nil
}

// trialOf carries a setting out from where another left the trimmed part.
func (s *Stage) trialOf(setting Setting, before *Biased) (made, bool) {
	trim := s.kind.Trim(&s.spec.Parts)
	if setting.mode != trimmedQuiescent || setting.warm || trim == nil {
		m, err := s.make(setting)
		return m, err == nil
	}
	if !(setting.value >= minimumQuiescent) {
		return made{}, false
	}
	m, found, err := s.cold().trimFrom(&before.made.parts, trim, setting.value, trialTolerance)
	return m, found && err == nil
}
