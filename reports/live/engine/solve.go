package engine

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"quietcross/corpus/bias"
	"quietcross/corpus/intime"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
	"quietcross/stage/device"
)

// A Sheet is what a page must know of a stage before it can offer controls.
type Sheet struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Circuit string `json:"circuit"`
	File    string `json:"file"` // the whole stage file, commented

	Drive   float64 `json:"drive"`   // V peak at digital full scale: 1 dB under clipping as built
	Load    float64 `json:"load"`    // ohm
	Ambient float64 `json:"ambient"` // degrees Celsius
	Memory  bool    `json:"memory"`  // the circuit stores energy: its law is that of midband

	Oversample Oversampling `json:"oversample"`

	// As built, and where the ladders of the two sliders end.
	Bias             float64 `json:"bias"`
	Quiescent        float64 `json:"quiescent"`
	Optimum          float64 `json:"optimum"` // A, 0: none
	MaximumBias      float64 `json:"maximum_bias"`
	MinimumQuiescent float64 `json:"minimum_quiescent"`
	MaximumQuiescent float64 `json:"maximum_quiescent"`
	// Start is the quiescent current that a page begins with, A, to three digits: that as
	// built or, where there is next to none, the optimum.
	Start float64 `json:"start"`
}

// Oversampling is by how much the rate is raised: for a law, and for a circuit in time.
type Oversampling struct {
	Static  int `json:"static"`
	Dynamic int `json:"dynamic"`
}

// A Request is a stage at a bias, to be solved.
type Request struct {
	File    string   `json:"file"`    // the stage file
	Load    float64  `json:"load"`    // ohm, in place of the file's
	Ambient float64  `json:"ambient"` // degrees Celsius, in place of the file's
	Mode    string   `json:"mode"`    // as-built, bias or quiescent
	Value   float64  `json:"value"`   // V or A
	Drive   float64  `json:"drive"`   // V peak at digital full scale
	Level   level.DB `json:"level"`   // maximum, re the drive
	Quick   bool     `json:"quick"`   // a sketch will do
}

// A Solution is a stage at a bias, solved.
type Solution struct {
	Law    *shape.Law `json:"-"`
	biased *stage.Biased
	reach  float64
	// evaluation is nil in a quick solution.
	evaluation *bias.Evaluation

	Bias      float64 `json:"bias"`      // V
	Quiescent float64 `json:"quiescent"` // A
	Supply    float64 `json:"supply"`    // W drawn at rest
	// Rung is what the bias does, and Says what the circuit's people call its condition
	// at full drive; nil and empty in a quick solution.
	Rung *bias.Rung `json:"rung,omitempty"`
	Says string     `json:"says,omitempty"`
}

// A Solver solves stages. It keeps the stage that it was asked for last.
type Solver struct {
	file string
	spec stage.Spec

	built built
	last  *stage.Biased // of the built stage, what a sketch begins with
}

// built is a stage made for one load and one temperature.
type built struct {
	file          string
	load, ambient float64
	stage         *stage.Stage
}

// minimumOffered is the least quiescent current that a slider offers, A.
const minimumOffered = 1e-6

// Describe reads a stage file, or the name of a built-in stage. The error of an
// illegal one is the command line's.
func (s *Solver) Describe(file string) (*Sheet, error) {
	if err := s.read(file); err != nil {
		return nil, err
	}
	st, err := stage.New(s.spec)
	if err != nil {
		return nil, err
	}
	asBuilt, err := st.Set(stage.AsBuilt())
	if err != nil {
		return nil, err
	}
	var text strings.Builder
	if err := s.spec.Write(&text); err != nil {
		return nil, err
	}
	sheet := &Sheet{
		Name: s.spec.Name, Title: s.spec.Title, Circuit: s.spec.Circuit, File: text.String(),
		Drive: asBuilt.Drive(), Load: s.spec.Load.Ohms, Ambient: s.spec.Thermal.Ambient - device.ZeroCelsius,
		Memory: st.HasMemory(), Bias: asBuilt.Point().Bias, Quiescent: asBuilt.Point().Quiescent,
		Optimum: st.OptimumQuiescent(), Oversample: Oversampling{Static: oversample, Dynamic: intime.Oversample},
	}
	s.file = file
	return sheet, sheet.ladders(st)
}

// ladders finds where the sliders end: at ten times the larger of the optimum and the
// current as built, within what the stage reaches.
func (sheet *Sheet) ladders(st *stage.Stage) error {
	lo, hi, err := st.QuiescentRange()
	if err != nil {
		return err
	}
	top := 10 * max(sheet.Optimum, sheet.Quiescent)
	sheet.MinimumQuiescent = max(1.01*lo, min(minimumOffered, 0.5*hi))
	sheet.MaximumQuiescent = max(min(0.99*hi, top), 1.02*sheet.MinimumQuiescent)
	_, heldMost, err := st.HeldRange()
	if err != nil {
		return err
	}
	at, err := st.Set(stage.Held(min(top, 0.9*heldMost)))
	if err != nil {
		return err
	}
	sheet.MaximumBias = at.Point().Bias
	sheet.Start = sheet.start()
	return nil
}

// start returns the current to begin with.
func (sheet *Sheet) start() float64 {
	at := sheet.MinimumQuiescent
	switch {
	case sheet.Quiescent > at:
		at = sheet.Quiescent
	case sheet.Optimum > 0:
		at = sheet.Optimum
	}
	power := math.Pow(10, math.Floor(math.Log10(at))-2)
	return math.Round(at/power) * power
}

// read reads a stage file, unless it was the last one.
func (s *Solver) read(file string) error {
	if file == s.file && file != "" {
		return nil
	}
	var spec stage.Spec
	var err error
	if strings.ContainsAny(file, "\n=") {
		spec, err = stage.Read(strings.NewReader(file), "stage")
	} else {
		spec, err = stage.Lookup(file)
	}
	if err != nil {
		return err
	}
	s.file, s.spec = file, spec
	return nil
}

// changed returns the spec of a request.
func (s *Solver) changed(r *Request) (stage.Spec, error) {
	if err := s.read(r.File); err != nil {
		return stage.Spec{}, err
	}
	spec := s.spec
	spec.Load.Ohms = r.Load
	spec.Thermal.Ambient = r.Ambient + device.ZeroCelsius
	return spec, nil
}

// File returns the stage file of a request, its load and temperature written in.
func (s *Solver) File(r Request) (string, error) {
	spec, err := s.changed(&r)
	if err != nil {
		return "", err
	}
	var text strings.Builder
	err = spec.Write(&text)
	return text.String(), err
}

// stageOf returns the stage of a request.
func (s *Solver) stageOf(r *Request) (*stage.Stage, error) {
	if b := &s.built; b.stage != nil && b.file == r.File && b.load == r.Load && b.ambient == r.Ambient {
		return b.stage, nil
	}
	spec, err := s.changed(r)
	if err != nil {
		return nil, err
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	s.built, s.last = built{r.File, r.Load, r.Ambient, st}, nil
	return st, nil
}

// setting returns the bias of a request.
func (r *Request) setting() (stage.Setting, error) {
	switch r.Mode {
	case "as-built":
		return stage.AsBuilt(), nil
	case "bias":
		return stage.Bias(r.Value), nil
	case "quiescent":
		return stage.Quiescent(r.Value), nil
	}
	return stage.Setting{}, fmt.Errorf("mode: found %q, legal are as-built, bias and quiescent", r.Mode)
}

// Solve biases a stage and fits its law. Unless the request is quick it is the law of
// the render command at these settings, to the bit.
func (s *Solver) Solve(r Request) (*Solution, error) {
	if !(r.Drive > 0) || math.IsInf(r.Drive, 1) {
		return nil, fmt.Errorf("drive: found %g V, legal is above 0", r.Drive)
	}
	st, err := s.stageOf(&r)
	if err != nil {
		return nil, err
	}
	setting, err := r.setting()
	if err != nil {
		return nil, err
	}
	solution := &Solution{reach: lawReach(r.Drive, r.Level)}
	if r.Quick {
		err = solution.sketch(st, setting, s.last)
	} else {
		err = solution.evaluate(st, setting, r.Drive)
	}
	if err != nil {
		return nil, err
	}
	s.last = solution.biased
	point := solution.biased.Point()
	solution.Bias, solution.Quiescent, solution.Supply = point.Bias, point.Quiescent, point.SupplyPower
	return solution, nil
}

// sketch is the quick way, from the solution before.
func (s *Solution) sketch(st *stage.Stage, setting stage.Setting, before *stage.Biased) (err error) {
	if s.biased, err = st.Trial(setting, before); err != nil {
		return err
	}
	s.Law, err = shape.Sketch(s.biased.Transfer, -s.reach, s.reach, bias.RenderTolerance*s.reach)
	return err
}

// evaluate is the full way, which is the render command's.
func (s *Solution) evaluate(st *stage.Stage, setting stage.Setting, drive float64) error {
	ladder, err := bias.NewLadder(st, &drive)
	if err != nil {
		return err
	}
	if s.evaluation, err = ladder.At(setting); err != nil {
		return err
	}
	s.biased, s.Rung = s.evaluation.Biased(), &s.evaluation.Rung
	if s.Law, err = s.evaluation.Law(s.reach, bias.RenderTolerance); err != nil {
		return err
	}
	condition, err := s.biased.Condition(drive)
	s.Says = st.Says(condition)
	return err
}

// Tone returns what the stage makes of a steady tone of hertz and of peak volts at its
// input, from the law and not from the sound. A quick solution has none.
func (s *Solution) Tone(hertz, peak float64) (bias.Tone, error) {
	if s.evaluation == nil {
		return bias.Tone{}, errors.New("tone: the stage was only sketched")
	}
	return s.evaluation.Tone(hertz, peak)
}
