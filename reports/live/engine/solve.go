package engine

import (
	"fmt"
	"math"
	"strings"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
	"quietcross/stage/circuits"
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

	// As built, and where the ladders of the two sliders end.
	Bias             float64 `json:"bias"`
	Quiescent        float64 `json:"quiescent"`
	Optimum          float64 `json:"optimum"` // A, 0: none
	MaximumBias      float64 `json:"maximum_bias"`
	MinimumQuiescent float64 `json:"minimum_quiescent"`
	MaximumQuiescent float64 `json:"maximum_quiescent"`
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

	Bias      float64    `json:"bias"`      // V
	Quiescent float64    `json:"quiescent"` // A
	Supply    float64    `json:"supply"`    // W drawn at rest
	Clip      [2]float64 `json:"clip"`      // onsets, V at the input
	Offset    float64    `json:"offset"`    // V at the output
}

// A Solver solves stages. It keeps the stage that it was asked for last.
type Solver struct {
	file string
	spec stage.Spec

	built built
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
		Optimum: st.OptimumQuiescent(),
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
	if sheet.Optimum == 0 {
		ladder, err := st.DefaultLadder()
		if err != nil {
			return err
		}
		top = max(ladder[len(ladder)-1].Value(), 2*sheet.Quiescent)
	}
	sheet.MinimumQuiescent = max(2*lo, minimumOffered)
	sheet.MaximumQuiescent = min(0.9*hi, top)
	at, err := st.Set(stage.Quiescent(sheet.MaximumQuiescent))
	if err != nil {
		return err
	}
	kind, err := circuits.Lookup(sheet.Circuit)
	if err != nil {
		return err
	}
	sheet.MaximumBias = min(kind.MaximumBias, at.Point().Bias)
	return nil
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
	s.built = built{r.File, r.Load, r.Ambient, st}
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
	biased, err := st.Set(setting)
	if err != nil {
		return nil, err
	}
	fit := shape.Fit
	if r.Quick {
		fit = shape.Sketch
	}
	solution := &Solution{biased: biased, reach: lawReach(r.Drive, r.Level)}
	if solution.Law, err = fit(biased.Transfer, -solution.reach, solution.reach, lawTolerance*solution.reach); err != nil {
		return nil, err
	}
	point := biased.Point()
	solution.Bias, solution.Quiescent, solution.Offset = point.Bias, point.Quiescent, point.Output
	solution.Supply = point.SupplyPower
	solution.Clip[0], solution.Clip[1] = biased.Clip()
	return solution, nil
}
