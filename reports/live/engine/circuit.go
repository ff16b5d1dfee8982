package engine

import (
	"strings"

	"quietcross/corpus/intime"
	"quietcross/stage"
)

// A Circuit is what the engine that solves hands to the one that plays, for it to follow a
// stage in time: the stage with its bias made, so that nothing has to be searched again.
type Circuit struct {
	Stage Standing `json:"stage"`
	Ideal Standing `json:"ideal"` // the same where it is most linear, as a reference
}

// A Standing is a stage whose bias is made: a stage file with its trimmed part in place,
// or with an ideal source.
type Standing struct {
	File   string  `json:"file"`
	Forced bool    `json:"forced"`
	Volts  float64 `json:"volts"` // of the ideal source, where there is one
}

// Circuit returns the solution's circuit.
func (s *Solution) Circuit() (*Circuit, error) {
	ideal, err := intime.NewIdeal(s.biased.Stage())
	if err != nil {
		return nil, err
	}
	c := &Circuit{}
	if c.Stage, err = standing(s.biased); err != nil {
		return nil, err
	}
	c.Ideal, err = standing(ideal.Biased())
	return c, err
}

func standing(b *stage.Biased) (Standing, error) {
	var file strings.Builder
	err := b.Trimmed().Write(&file)
	volts, forced := b.Forced()
	return Standing{File: file.String(), Forced: forced, Volts: volts}, err
}

// set makes the stage.
func (s Standing) set() (*stage.Biased, error) {
	spec, err := stage.Read(strings.NewReader(s.File), "stage")
	if err != nil {
		return nil, err
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	if s.Forced {
		return st.Set(stage.Bias(s.Volts))
	}
	return st.Set(stage.AsBuilt())
}
