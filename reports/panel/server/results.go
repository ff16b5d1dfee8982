package server

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/panel/statistics"
)

const (
	intervalLevel = 0.95
	fitRuns       = 200 // simulated experiments for the goodness of fit
)

// model is the curve that is fitted to answers.
var model = statistics.Model{Shape: statistics.Logistic, Guess: statistics.GuessThree, MaxLapse: 0.06}

// Prediction is what a model says about a material. It is printed beside what
// was heard and never enters it.
type Prediction struct {
	Material  string
	Stimulus  string // of the clips that it was made for
	Heard     hearing.Conditions
	Residual  float64 // decibels at the predicted threshold; NaN for none
	Quiescent float64 // amperes there
	Bias      float64 // volts there
	// Floor is the residual in decibels under which nothing is heard even without the
	// programme; -Inf when it lies under all there is.
	Floor  float64
	Method string // how it was predicted, a few words
	// Grades are predicted grades, 1 to 5, of renderings, by ascending current.
	Grades []PredictedGrade
}

// PredictedGrade is the grade that a model expects of a rendering.
type PredictedGrade struct{ Quiescent, Grade float64 }

// Results is everything a panel file says.
type Results struct {
	Made      time.Time
	Plan      *Registration
	Closed    string // when the panel was closed, "" while it is open
	Materials []MaterialResult
}

// Registration is a plan as it was fixed before the first listener.
type Registration struct {
	Hash, Text, Registered string
}

// Power is [Plan.Power] of the plan.
func (r *Registration) Power() string {
	p, err := ReadPlan(strings.NewReader(r.Text))
	if err != nil {
		return "" // of an earlier version, whose keys are not read any more
	}
	return p.Power()
}

// MaterialResult is a panel's result on one material from one set.
type MaterialResult struct {
	Material, Stimulus, Title, SetHash, Version string
	SetSeed                                     uint64
	Listeners                                   []ListenerResult // in the order they began
	// Pooled is the panel's threshold, from the listeners who were kept and have
	// one; nil when there are none.
	Pooled   *statistics.Pooled
	At       Place // of the pooled mean
	From, To Place // of the ends of its interval, From at the larger residual
	// Points are the test trials of the kept listeners with a threshold, by
	// residual, each listener's moved by what parts the threshold from the
	// pooled one: so they show the slope that listeners have and not the spread
	// between them. Fit is the curve through them.
	Points   []Level
	Fit      *statistics.Fit
	Grades   []GradeResult
	Variance []statistics.Effect // of a full layout of grades
	Shares   *statistics.Shares  // of triangle tests
	Expected *Prediction
	// Playback is the median level of a full-scale sine among those who know theirs,
	// dB SPL, and Known how many they are; nil when nobody does. Floor is at that level.
	Playback *level.DB
	Known    int
	Floor    *Floor
	Axis     Axis
	Warnings []string

	rungs []Rung
}

// Level is a count at one residual in decibels.
type Level = statistics.Point

// ListenerResult is the result of one session.
type ListenerResult struct {
	Session *Session
	Trials  []Trial // answered ones
	Verdict statistics.Verdict
	// Threshold is the residual in decibels at which the listener hears the
	// difference in half of the trials, from the posterior over all test
	// trials. It counts only when Established; Why says what is missing.
	Threshold   statistics.Estimate
	Established bool
	Why         string
	At          Place
	From, To    Place // ends of the interval, From at the larger residual
	// Fit is the maximum-likelihood curve and Profile the interval of its
	// threshold; nil with fewer than two levels.
	Fit     *statistics.Fit
	Profile statistics.Interval
	// FitP is the Monte Carlo goodness of fit; NaN without a fit.
	FitP float64
	// Track is the staircase's own estimate and Target the proportion right it
	// aims at; NaN for other methods. CutShort is how many of its steps the ends of the
	// set cut short.
	Track, Target float64
	CutShort      int
	Large, Null   statistics.Count     // catch trials
	Screening     statistics.Screening // graded sessions
	Kept          bool
	LeftOut       string // why not kept
	Again         bool   // left out for no other reason than that it is a further session

	// Holm is the probability under guessing adjusted for all listeners of the material
	// together; NaN for graded sessions.
	Holm  float64
	Floor *Floor

	points []Level // one for each test trial
}

// Evaluate reads a store and works out its results. Predictions are matched by
// stimulus: stage, drive and the material's own samples, not its name. Open trials are left out, for their key is not public yet.
func Evaluate(ctx context.Context, store *Store, predictions []Prediction) (*Results, error) {
	sessions, err := store.Sessions(ctx)
	if err != nil {
		return nil, err
	}
	r := &Results{Made: time.Now()}
	if r.Plan, err = store.Registration(ctx); err != nil {
		return nil, err
	}
	if r.Closed, err = store.known(ctx, closedFact); err != nil {
		return nil, err
	}
	for _, v := range sessions {
		m, err := r.material(ctx, store, v)
		if err != nil {
			return nil, err
		}
		l, err := evaluateSession(ctx, store, v, m.Axis)
		if err != nil {
			return nil, err
		}
		m.leaveOutAgain(&l)
		m.Listeners = append(m.Listeners, l)
	}
	for i := range r.Materials {
		m := &r.Materials[i]
		for _, p := range predictions {
			if p.Material == m.Material && p.Stimulus == m.Stimulus {
				m.Expected = &p
			}
		}
		m.pool()
		if m.Expected == nil && len(predictions) > 0 {
			m.Warnings = append(m.Warnings, "no prediction: the answers were given to another stage, drive or material than the set at hand has, or the model cannot hear it")
		}
		m.judge()
	}
	return r, nil
}

// material returns the entry of a session's material and set, new if need be.
func (r *Results) material(ctx context.Context, store *Store, v *Session) (*MaterialResult, error) {
	for i := range r.Materials {
		if m := &r.Materials[i]; m.Material == v.Material && m.Stimulus == v.Stimulus {
			return m, nil
		}
	}
	rungs, err := store.Rungs(ctx, v.Material, v.Stimulus)
	if err != nil {
		return nil, err
	}
	r.Materials = append(r.Materials, MaterialResult{
		Material: v.Material, Stimulus: v.Stimulus, Title: v.Title, SetHash: v.SetHash, Version: v.Version, SetSeed: v.SetSeed,
		Axis: newAxis(rungs), rungs: rungs,
	})
	return &r.Materials[len(r.Materials)-1], nil
}

// listenerResult is the result of one session for the listener's own page.
func listenerResult(ctx context.Context, store *Store, v *Session) (ListenerResult, error) {
	rungs, err := store.Rungs(ctx, v.Material, v.Stimulus)
	if err != nil {
		return ListenerResult{}, err
	}
	return evaluateSession(ctx, store, v, newAxis(rungs))
}

func evaluateSession(ctx context.Context, store *Store, v *Session, axis Axis) (ListenerResult, error) {
	l := ListenerResult{Session: v, Track: math.NaN(), Target: math.NaN(), FitP: math.NaN(), Holm: math.NaN()}
	trials, err := store.Trials(ctx, v.ID)
	if err != nil {
		return l, err
	}
	l.Trials = slices.DeleteFunc(trials, func(t Trial) bool { return t.Open() })
	if v.Settings.Graded() {
		l.screenGrades()
		return l, nil
	}
	total := l.judge()
	set := v.Settings
	if set.Method == Staircase {
		l.Verdict = l.Verdict.Revised(v.guessedTracks().P(total))
	}
	if err := l.locate(axis); err != nil {
		return l, err
	}
	if fit, err := model.Fit(l.points); err == nil { // one level cannot be fitted
		l.Fit, l.Profile = &fit, fit.Profile(statistics.Threshold, intervalLevel)
		l.FitP = fit.Bootstrap(rand.New(rand.NewPCG(v.Seed, 2)), fitRuns, intervalLevel).DevianceP
	}
	l.screenCatches()
	return l, nil
}

// judge counts the answers and holds them against guessing.
func (l *ListenerResult) judge() statistics.Count {
	total, set := l.count(), l.Session.Settings
	l.Verdict = statistics.Judge(total, statistics.GuessThree, set.Alpha, set.ability(), set.Power)
	return total
}

// count adds up the test trials by level and the catch trials.
func (l *ListenerResult) count() (total statistics.Count) {
	add := func(c *statistics.Count, right bool) {
		c.Trials++
		if right {
			c.Right++
		}
	}
	for i := range l.Trials {
		switch t := &l.Trials[i]; t.Kind {
		case Test:
			p := Level{Level: float64(t.Rung.Residual)}
			add(&p.Count, t.Right())
			add(&total, t.Right())
			l.points = append(l.points, p)
		case CatchLarge:
			add(&l.Large, t.Right())
		case CatchNull:
			add(&l.Null, t.Right())
		}
	}
	return total
}

// locate estimates the threshold from all test trials and says whether it
// stands.
func (l *ListenerResult) locate(axis Axis) error {
	posterior, err := statistics.NewPlacement(l.Session.prior())
	if err != nil {
		return err
	}
	stairs := statistics.NewStaircase(l.Session.rule())
	for i := range l.Trials {
		if t := &l.Trials[i]; t.Kind == Test {
			posterior.Answer(float64(t.Rung.Residual), t.Right())
			stairs.Answer(t.Right())
		}
	}
	if l.Session.Settings.Method == Staircase {
		l.Target, l.CutShort = l.Session.rule().Target(), stairs.AtBound()
		if at, ok := stairs.Estimate(4); ok {
			l.Track = at
		}
	}
	l.Threshold = posterior.Threshold(intervalLevel)
	l.At, l.From, l.To = axis.At(l.Threshold.Mean), axis.At(l.Threshold.Interval.Hi), axis.At(l.Threshold.Interval.Lo)
	l.Why = l.missing()
	l.Established = l.Why == ""
	return nil
}

// missing says why there is no threshold, and nothing when there is one.
func (l *ListenerResult) missing() string {
	v, set := &l.Verdict, l.Session.Settings
	switch {
	case v.Count.Trials == 0:
		return "no test trial was answered"
	case v.Outcome == statistics.Undecided:
		return fmt.Sprintf("not above chance, and with a power of %.2f too few trials to tell: this says nothing about audibility", v.Power)
	case v.Outcome == statistics.NotHeard:
		return fmt.Sprintf("not heard: not above chance, with a power of %.2f; for this listener and playback only", v.Power)
	case set.Method == Triangle:
		return "heard at this level; one level gives no threshold"
	case math.IsInf(l.Threshold.Interval.Lo, -1) || l.Threshold.Mean < l.Session.Lo:
		return fmt.Sprintf("heard down to the minimum difference of the set (%s), which does not bound the threshold", decibels(l.Session.Lo))
	case math.IsInf(l.Threshold.Interval.Hi, 1) || l.Threshold.Mean > l.Session.Hi:
		return fmt.Sprintf("heard at times; the largest difference of the set (%s) does not bound the threshold", decibels(l.Session.Hi))
	}
	return ""
}

// screenCatches keeps a listener who is finished and missed at most so many of the
// large differences as the settings allow (our own rule; common practice), so that
// inattention does not pass for a high threshold.
func (l *ListenerResult) screenCatches() {
	most := l.Session.Settings.MissedLarge
	switch missed := l.Large.Trials - l.Large.Right; {
	case l.Session.Finished.IsZero():
		l.LeftOut = "session not finished"
	case missed > most && l.Verdict.Outcome != statistics.Heard:
		l.LeftOut = "heard the largest differences no better: deaf to them here, or not listening"
	case missed > most:
		l.LeftOut = fmt.Sprintf("missed %d of %d large differences", missed, l.Large.Trials)
	default:
		l.Kept = true
	}
}
