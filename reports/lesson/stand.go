package lesson

import (
	"context"
	"fmt"
	"strings"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/live/engine"
	"quietcross/stage"
	"quietcross/stage/device"
)

// A stand is where stages are put to be biased, measured and heard. Figures come from
// corpus/bias, sounds from the engine that the page holds, so that what is predicted is
// predicted of what the page plays, sample by sample.
type stand struct {
	ctx      context.Context
	heard    hearing.Conditions
	music    [][]float32
	excerpt  excerpt
	subjects map[string]*subject
}

// An excerpt says how a page makes the music: so many frames of a piece from a frame on,
// times a gain.
type excerpt struct {
	Piece  string  `json:"piece"`
	Seed   uint64  `json:"seed"`
	Rate   int     `json:"rate"`
	From   int     `json:"from"`
	Frames int     `json:"frames"`
	Gain   float64 `json:"gain"`
}

// The music: a piece of few, sustained partials, in which the least is hidden.
const (
	piece                 = "soft-wind"
	rate                  = 48000
	startSeconds          = 2
	musicSeconds          = 6
	peakDB       level.DB = -6 // of the excerpt
)

func newStand(ctx context.Context, heard hearing.Conditions, seed uint64) (*stand, error) {
	audio, err := engine.Generate(piece, rate, seed)
	if err != nil {
		return nil, err
	}
	e := excerpt{Piece: piece, Seed: seed, Rate: rate, From: startSeconds * rate, Frames: musicSeconds * rate}
	music := make([][]float32, len(audio))
	peak := float32(0)
	for c := range audio {
		music[c] = audio[c][e.From : e.From+e.Frames]
		for _, v := range music[c] {
			peak = max(peak, v, -v)
		}
	}
	e.Gain = peakDB.Amplitude() / float64(peak)
	for c := range music {
		for i, v := range music[c] {
			music[c][i] = float32(float64(v) * e.Gain)
		}
	}
	return &stand{ctx: ctx, heard: heard, music: music, excerpt: e, subjects: map[string]*subject{}}, nil
}

// A subject is a stage on the stand.
type subject struct {
	*stand
	spec   stage.Spec
	file   string // its name where it is built in, else its file
	stage  *stage.Stage
	ladder *bias.Ladder
	solver engine.Solver
	states map[stateKey]*state
}

type stateKey struct {
	setting stage.Setting
	ambient float64
}

// builtin returns a built-in stage.
func (s *stand) builtin(name string) (*subject, error) {
	if found, ok := s.subjects[name]; ok {
		return found, nil
	}
	spec, err := stage.Lookup(name)
	if err != nil {
		return nil, err
	}
	found, err := s.put(spec)
	if err == nil {
		s.subjects[name] = found
	}
	return found, err
}

// put puts a stage on the stand.
func (s *stand) put(spec stage.Spec) (*subject, error) {
	file, err := fileOf(spec)
	if err != nil {
		return nil, err
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", spec.Name, err)
	}
	return &subject{stand: s, spec: spec, file: file, stage: st, ladder: ladder, states: map[stateKey]*state{}}, nil
}

// fileOf returns the name of a built-in stage, and of any other its file.
func fileOf(spec stage.Spec) (string, error) {
	var own, known strings.Builder
	if err := spec.Write(&own); err != nil {
		return "", err
	}
	if found, err := stage.Lookup(spec.Name); err == nil {
		if err := found.Write(&known); err != nil {
			return "", err
		}
		if known.String() == own.String() {
			return spec.Name, nil
		}
	}
	return own.String(), nil
}

// A state is a subject at a bias.
type state struct {
	*subject
	setting    stage.Setting
	evaluation *bias.Evaluation
	request    engine.Request
	solution   *engine.Solution
	verdicts   map[engine.Controls]*engine.Verdict // of what was heard of it
}

// at biases a subject: as built, by volts, or by its own parts trimmed to a current.
func (s *subject) at(setting stage.Setting) (*state, error) {
	return s.warmed(setting, s.spec.Thermal.Ambient)
}

// warmed is at with all parts at a temperature, K. Its figures at other temperatures than
// the file's are those of the sound alone.
func (s *subject) warmed(setting stage.Setting, kelvin float64) (*state, error) {
	if err := s.ctx.Err(); err != nil {
		return nil, err
	}
	key := stateKey{setting, kelvin}
	if found, ok := s.states[key]; ok {
		return found, nil
	}
	x := &state{subject: s, setting: setting, verdicts: map[engine.Controls]*engine.Verdict{}, request: engine.Request{
		File: s.file, Load: s.spec.Load.Ohms, Ambient: kelvin - device.ZeroCelsius,
		Mode: setting.Mode(), Value: setting.Value(), Drive: s.ladder.Drive(), Level: maximumLevel,
	}}
	var err error
	if x.evaluation, err = s.ladder.At(setting); err != nil {
		return nil, fmt.Errorf("%s: %w", s.spec.Name, err)
	}
	if x.solution, err = s.solver.Solve(x.request); err != nil {
		return nil, fmt.Errorf("%s, %s: %w", s.spec.Name, setting, err)
	}
	s.states[key] = x
	return x, nil
}

// held biases a subject by an ideal source that gives a current while cold.
func (s *subject) held(amperes float64) (*state, error) {
	b, err := s.stage.Set(stage.Held(amperes))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.spec.Name, err)
	}
	return s.at(stage.Bias(b.Point().Bias))
}

// maximumLevel is that up to which laws are solved, re the drive.
const maximumLevel level.DB = 6

// volts returns the peak at the stage's input of music that is played at a level.
func (s *subject) volts(l level.DB) float64 { return s.ladder.Drive() * (l + peakDB).Amplitude() }

// driven returns the same stage for another drive, V peak.
func (s *subject) driven(drive float64) (*subject, error) {
	ladder, err := bias.NewLadder(s.stage, &drive)
	return &subject{stand: s.stand, spec: s.spec, file: s.file, stage: s.stage, ladder: ladder, states: map[stateKey]*state{}}, err
}
