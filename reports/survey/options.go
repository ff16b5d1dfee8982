package survey

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"runtime"
	"slices"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// Volume says how loudly recordings are played.
type Volume string

// The ways to set the volume.
const (
	// VolumeSet plays the whole library with the volume set once.
	VolumeSet Volume = "set"
	// VolumeTurnedUp turns the volume for each recording until its programme loudness is
	// [Options.Loudness], but never so far that its peak passes the stage's drive.
	VolumeTurnedUp Volume = "turned-up"
)

// What [DefaultOptions] holds.
const (
	DefaultLength = 10.0
	// DefaultLoudness is the target of EBU R 128, LUFS.
	DefaultLoudness level.DB = -23
)

// Legal lengths of an excerpt, s.
const (
	MinLength = 3.0
	MaxLength = 60.0
)

// Options say what is surveyed and how. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	// Stages are what the library is played through, each with a name of its own.
	Stages []stage.Spec
	// Excerpts are the kinds of excerpt taken from each recording, in order, each once.
	Excerpts []Kind
	// Length of an excerpt, s, MinLength to MaxLength.
	Length float64
	// Seed chooses among equally good excerpts and draws the bootstrap's libraries.
	Seed uint64
	// Volume says how the volume is set; Level is it in dB re the drive where it is set
	// once, -120 to 20, and Loudness the programme loudness, LUFS, -70 to 0, that each
	// recording is brought to where it is turned up.
	Volume   Volume
	Level    level.DB
	Loudness level.DB
	// Heard are the conditions of listening.
	Heard hearing.Conditions
	// Limit is the probability of detection that counts as predicted heard.
	Limit float64
	// Low and High bound the quiescent current, A; both 0 stand for a thousandth to ten
	// times each stage's optimum.
	Low, High float64
	// Solver and Drive are those of [render.Options].
	Solver render.Solver
	Drive  *float64
	// Part is the share of the library that is worked on.
	Part Part

	// Workers is the number of recordings worked on at once, at least 1; it changes no
	// result. Progress, if not nil, is told the share of what is left to do, 0 to 1, one
	// call at a time.
	Workers  int
	Progress func(share float64)
	// Skip are folders that are passed over, such as that of the result.
	Skip []string

	hear hearer // in tests, what hears in place of the search
}

// DefaultOptions survey stages with one worker a processor.
func DefaultOptions(stages ...stage.Spec) Options {
	return Options{
		Stages: stages, Excerpts: Kinds(), Length: DefaultLength, Seed: 1,
		Volume: VolumeSet, Loudness: DefaultLoudness, Heard: hearing.DefaultConditions(),
		Limit:  audibility.DefaultLimit,
		Solver: render.SolverAuto, Part: Whole, Workers: runtime.GOMAXPROCS(0),
	}
}

// Check returns an error that names the first option that is not legal, what was found
// and what is legal.
func (o *Options) Check() error {
	if err := o.checkStages(); err != nil {
		return err
	}
	if err := o.Heard.Check(); err != nil {
		return fmt.Errorf("survey: %w", err)
	}
	switch {
	case len(o.Excerpts) == 0:
		return fmt.Errorf("survey: no kind of excerpt; legal are %v", Kinds())
	case !(o.Length >= MinLength && o.Length <= MaxLength):
		return fmt.Errorf("survey: excerpts of %g s; legal are %g to %g s", o.Length, MinLength, MaxLength)
	case o.Volume != VolumeSet && o.Volume != VolumeTurnedUp:
		return fmt.Errorf("survey: volume %q; legal are %s and %s", o.Volume, VolumeSet, VolumeTurnedUp)
	case !(o.Level >= -120 && o.Level <= 20):
		return fmt.Errorf("survey: level %g dB; legal is -120 to 20 dB", o.Level)
	case !(o.Loudness >= -70 && o.Loudness <= 0):
		return fmt.Errorf("survey: loudness %g LUFS; legal is -70 to 0 LUFS", o.Loudness)
	case o.Workers < 1:
		return fmt.Errorf("survey: %d workers; at least 1", o.Workers)
	case (o.Low != 0 || o.High != 0) && !(o.Low > 0 && o.High > o.Low && !math.IsInf(o.High, 1)):
		return fmt.Errorf("survey: quiescent current from %g A to %g A: the first must be above 0 and the second above it", o.Low, o.High)
	}
	for i, kind := range o.Excerpts {
		if !slices.Contains(Kinds(), kind) || slices.Contains(o.Excerpts[:i], kind) {
			return fmt.Errorf("survey: excerpt %q is unknown or named twice; legal are %v", kind, Kinds())
		}
	}
	return o.Part.check()
}

// checkStages refuses a list of stages that a result could not tell apart.
func (o *Options) checkStages() error {
	if len(o.Stages) == 0 {
		return fmt.Errorf("survey: no stage")
	}
	for i, spec := range o.Stages {
		for _, other := range o.Stages[:i] {
			if spec.Name == other.Name {
				return fmt.Errorf("survey: two stages are called %q: give one another name", spec.Name)
			}
		}
	}
	return nil
}

// A term is one option as a survey is bound to it: outcomes of surveys with different
// terms are not mixed.
type term struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// rules is the version of the rules by which excerpts are chosen, recordings heard and
// outcomes kept. It is raised with every change to one of them.
const rules = 1

// partTerm is the name of the term that the parts of one survey do not share.
const partTerm = "part"

// terms lists what outcomes depend on.
func (o *Options) terms() ([]term, error) {
	var list []term
	add := func(name string, value any) error {
		text, err := json.Marshal(value)
		list = append(list, term{name, string(text)})
		return err
	}
	for _, spec := range o.Stages {
		var file bytes.Buffer
		if err := spec.Write(&file); err != nil {
			return nil, err
		}
		if err := add("stage "+spec.Name, fmt.Sprintf("%x", sha256.Sum256(file.Bytes()))); err != nil {
			return nil, err
		}
	}
	for _, t := range []struct {
		name  string
		value any
	}{
		{"rules", rules},
		{"excerpts", o.Excerpts},
		{"length", o.Length},
		{"seed", o.Seed},
		{"volume", o.Volume},
		{"level", o.Level},
		{"loudness", o.Loudness},
		{"listening", o.Heard},
		{"limit", o.Limit},
		{"range", []float64{o.Low, o.High}},
		{"solver", o.Solver},
		{"drive", o.Drive},
		{partTerm, o.Part},
	} {
		if err := add(t.name, t.value); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// differences names the terms in which two surveys differ, in order.
func differences(a, b []term) []string {
	find := func(list []term, name string) string {
		i := slices.IndexFunc(list, func(t term) bool { return t.Name == name })
		if i < 0 {
			return "absent"
		}
		return list[i].Value
	}
	var names []string
	for _, t := range slices.Concat(a, b) {
		x, y := find(a, t.Name), find(b, t.Name)
		text := fmt.Sprintf("%s (%s, %s)", t.Name, x, y)
		if x != y && !slices.Contains(names, text) {
			names = append(names, text)
		}
	}
	return names
}
