package server

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"quietcross/dsp/hearing"
	"quietcross/reports/panel/statistics"
)

// The JSON of a result has SI units and decibels as named; what is not known is null.

// JSONVersion is the version of the layout of [Results.WriteJSON].
const JSONVersion = 2

type jsonResult struct {
	Schema    int            `json:"schema"`
	Made      time.Time      `json:"made"`
	Closed    string         `json:"closed,omitempty"`
	Plan      *jsonPlan      `json:"plan,omitempty"`
	Materials []jsonMaterial `json:"materials"`
}

type jsonPlan struct {
	Hash       string `json:"sha256"`
	Registered string `json:"registered"`
	Text       string `json:"text"`
	Power      string `json:"power,omitempty"`
}

type jsonMaterial struct {
	Material  string         `json:"material"`
	Stimulus  string         `json:"stimulus"`
	SetHash   string         `json:"set_hash"`
	Version   string         `json:"version"`
	Methods   string         `json:"methods"`
	Playback  *float64       `json:"full_scale_spl_db"`
	Known     int            `json:"listeners_with_level"`
	Floor     *jsonFloor     `json:"floor,omitempty"`
	ByEar     *jsonPooled    `json:"by_ear,omitempty"`
	ByNumber  *jsonNumber    `json:"by_number,omitempty"`
	Agreement string         `json:"agreement,omitempty"`
	Shares    *jsonShares    `json:"triangle,omitempty"`
	Grades    []jsonGrade    `json:"grades,omitempty"`
	Variance  []jsonEffect   `json:"analysis_of_variance,omitempty"`
	Listeners []jsonListener `json:"listeners"`
	Warnings  []string       `json:"warnings,omitempty"`
}

type jsonFloor struct {
	Residual *float64 `json:"residual_db"`
	Why      string   `json:"why"`
}

type jsonPooled struct {
	N         int         `json:"listeners"`
	Residual  *float64    `json:"residual_db"`
	Interval  [2]*float64 `json:"interval_95_db"`
	Between   *float64    `json:"between_listeners_sd_db"`
	Quiescent *float64    `json:"quiescent_a"`
	Bias      *float64    `json:"bias_v"`
}

type jsonNumber struct {
	Residual  *float64           `json:"residual_db"`
	Quiescent *float64           `json:"quiescent_a"`
	Bias      *float64           `json:"bias_v"`
	Floor     *float64           `json:"floor_db"`
	Heard     hearing.Conditions `json:"heard"`
	Method    string             `json:"method"`
}

type jsonShares struct {
	N        int         `json:"listeners"`
	Right    int         `json:"right"`
	Trials   int         `json:"trials"`
	P        float64     `json:"p"`
	Mean     float64     `json:"share_heard"`
	Interval [2]*float64 `json:"interval_95"`
	Between  *float64    `json:"between_listeners_sd"`
}

type jsonGrade struct {
	Role       Role        `json:"role"`
	Residual   *float64    `json:"residual_db"`
	Quiescent  *float64    `json:"quiescent_a"`
	N          int         `json:"listeners"`
	Grade      *float64    `json:"grade"`
	Interval   [2]*float64 `json:"interval_95"`
	Difference *float64    `json:"difference_grade"`
	Predicted  *float64    `json:"predicted_grade"`
}

type jsonEffect struct {
	Name    string   `json:"effect"`
	Squares float64  `json:"sum_of_squares"`
	Freedom int      `json:"degrees_of_freedom"`
	F       *float64 `json:"f"`
	P       *float64 `json:"p"`
}

type jsonListener struct {
	Code        string      `json:"listener"`
	Name        string      `json:"name,omitempty"`
	Part        int         `json:"part,omitempty"`
	Settings    Settings    `json:"settings"`
	Kept        bool        `json:"kept"`
	LeftOut     string      `json:"left_out,omitempty"`
	Right       int         `json:"right"`
	Trials      int         `json:"trials"`
	P           *float64    `json:"p"`
	Holm        *float64    `json:"p_holm"`
	Power       float64     `json:"power"`
	Established bool        `json:"threshold_established"`
	Why         string      `json:"why,omitempty"`
	Threshold   *float64    `json:"threshold_db"`
	Interval    [2]*float64 `json:"interval_95_db"`
	Quiescent   *float64    `json:"quiescent_a"`
	SPL         *float64    `json:"noise_spl_dba"`
	Matched     string      `json:"level_by,omitempty"`
	Screening   *jsonScreen `json:"screening,omitempty"`
}

type jsonScreen struct {
	T     *float64 `json:"t"`
	P     float64  `json:"p"`
	Exact float64  `json:"exact_p"`
}

// WriteJSON writes the results as one JSON document.
func (r *Results) WriteJSON(w io.Writer, e Export) error {
	out := jsonResult{Schema: JSONVersion, Made: r.Made.UTC(), Closed: r.Closed, Materials: []jsonMaterial{}}
	if r.Plan != nil {
		out.Plan = &jsonPlan{r.Plan.Hash, r.Plan.Registered, r.Plan.Text, r.Plan.Power()}
	}
	who := r.numbers()
	for i := range r.Materials {
		out.Materials = append(out.Materials, r.Materials[i].json(e, who))
	}
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(out)
}

// finite is nil for what JSON has no number for.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

func ends(i statistics.Interval) [2]*float64 { return [2]*float64{finite(i.Lo), finite(i.Hi)} }

func (m *MaterialResult) json(e Export, who map[string]string) jsonMaterial {
	out := jsonMaterial{
		Material: m.Material, Stimulus: m.Stimulus, SetHash: m.SetHash, Version: m.Version, Methods: m.Methods(),
		Playback: (*float64)(m.Playback), Known: m.Known, Agreement: m.Agreement(), Warnings: m.Warnings,
	}
	if m.Floor != nil {
		out.Floor = &jsonFloor{finite(m.Floor.Residual), m.Floor.Why}
	}
	if p := m.Pooled; p != nil {
		out.ByEar = &jsonPooled{p.N, finite(p.Mean), ends(p.Interval), finite(p.Between), finite(m.At.Quiescent), finite(m.At.Bias)}
	}
	if p := m.Expected; p != nil {
		out.ByNumber = &jsonNumber{finite(p.Residual), finite(p.Quiescent), finite(p.Bias), finite(p.Floor), p.Heard, p.Method}
	}
	if s := m.Shares; s != nil {
		out.Shares = &jsonShares{s.N, s.Total.Right, s.Total.Trials, s.P, s.Mean, ends(s.Interval), finite(s.Between)}
	}
	for _, g := range m.Grades {
		out.Grades = append(out.Grades, jsonGrade{g.Role, finite(g.Residual), finite(g.Place.Quiescent), g.Grade.N, finite(g.Grade.Mean), ends(g.Grade.Interval), finite(g.Difference.Mean), finite(g.Predicted)})
	}
	for _, v := range m.Variance {
		out.Variance = append(out.Variance, jsonEffect{v.Name, v.Squares, v.Freedom, finite(v.F), finite(v.P)})
	}
	for i := range m.Listeners {
		out.Listeners = append(out.Listeners, m.Listeners[i].json(e, who))
	}
	return out
}

func (l *ListenerResult) json(e Export, who map[string]string) jsonListener {
	v := l.Session
	p := personal(v, e, who)
	out := jsonListener{
		Code: p.code, Name: p.name, Part: v.Part, Settings: v.Settings, Kept: l.Kept, LeftOut: l.LeftOut,
		Right: l.Verdict.Count.Right, Trials: l.Verdict.Count.Trials, P: finite(l.Verdict.P), Holm: finite(l.Holm), Power: l.Verdict.Power,
		Established: l.Established, Why: l.Why, SPL: v.SPL, Matched: v.Matched,
	}
	if l.Established {
		out.Threshold, out.Interval, out.Quiescent = finite(l.Threshold.Mean), ends(l.Threshold.Interval), finite(l.At.Quiescent)
	}
	if v.Settings.Graded() {
		out.P, out.Screening = nil, &jsonScreen{finite(l.Screening.T), l.Screening.P, l.Screening.Exact}
	}
	return out
}
