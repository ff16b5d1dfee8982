package server

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"quietcross/dsp/hearing"
	"quietcross/reports/panel/statistics"
	"quietcross/stage/quantity"
)

// A plan fixes a study before its first listener: what each hears in which order, how
// sessions go, who is left out, and when it ends. It is a file; its hash stands with
// every result, so that anybody can see that the plan came first. The order of the
// materials is that of a Latin square in which each material follows each other one
// equally often (Williams, Australian Journal of Scientific Research A 2:149, 1949).

// Plan is a study. Make it with [ReadPlan].
type Plan struct {
	Title     string
	Materials []string // every listener hears all of them; empty: all of the set
	Order     string   // "latin-square" or "as-listed"
	Settings  Settings
	Consent   string // what listeners agree to, beside what the page says
	Names     bool   // ask for names
	// Sitting is how many materials are heard at one sitting, 0 for all, and Pause how
	// long it is to the next.
	Sitting int
	Pause   time.Duration
	SPL     float64 // level of the noise, dB(A); 0 when it is the listener's choice
	Meter   bool    // the level must be measured
	RoomNR  float64 // noise rating of the room, for predictions
	// Listeners ends the study: nobody begins once so many have finished and pass the
	// plan's criteria of exclusion; 0 for no end.
	Listeners int
	// Difference is what the panel's mean should not miss, dB of a threshold or grades,
	// and Between the standard deviation that listeners are expected to have there,
	// their own errors included. They have no meaning in a triangle test.
	Difference, Between float64
	Hash                string // SHA-256 of the file
	Text                string // the file
}

// The orders of a plan.
const (
	latinSquare = "latin-square"
	asListed    = "as-listed"
)

// planFile is the layout of a plan's file; what a key leaves out is the method's own.
type planFile struct {
	Title     string   `toml:"title"`
	Method    Method   `toml:"method"`
	Materials []string `toml:"materials"`
	Order     string   `toml:"order"`
	Consent   string   `toml:"consent"`
	Names     bool     `toml:"names"`
	Session   struct {
		Trials, Practice, Down, Reversals *int
		CatchEvery                        *int `toml:"catch_every"`
		Step                              *float64
		Quiescent                         *string
		Sitting                           int    `toml:"materials_per_sitting"`
		Pause                             string `toml:"pause"`
		BreakEvery                        *int   `toml:"break_every"`
		Break                             *string
		Listen                            *string `toml:"minimum_listening"`
	} `toml:"session"`
	Level struct {
		SPL   float64  `toml:"spl"`
		Meter bool     `toml:"meter"`
		Room  *float64 `toml:"room_nr"`
	} `toml:"level"`
	Exclude struct {
		MissedLarge *int     `toml:"missed_large_more_than"`
		Screening   *float64 `toml:"screening_alpha"`
	} `toml:"exclude"`
	Stop struct {
		Listeners int `toml:"listeners"`
	} `toml:"stop"`
	Power struct {
		Alpha, Share, Power, Difference, Between *float64
	} `toml:"power"`
}

// maxPlan bounds a plan's file, bytes.
const maxPlan = 1 << 20

// ReadPlan reads a plan's file, a TOML document. An unknown key, an impossible value
// and a test whose trials do not reach the power that the plan asks for are refused,
// with what was found and what is legal.
func ReadPlan(r io.Reader) (*Plan, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxPlan+1))
	if err != nil {
		return nil, err
	}
	if len(text) > maxPlan {
		return nil, fmt.Errorf("a plan has up to %d bytes", maxPlan)
	}
	f := planFile{Method: Adaptive, Order: latinSquare}
	decoder := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := decoder.Decode(&f); err != nil {
		var unknown *toml.StrictMissingError
		if errors.As(err, &unknown) {
			return nil, fmt.Errorf("unknown key:\n%s", unknown.String())
		}
		var bad *toml.DecodeError
		if errors.As(err, &bad) {
			return nil, fmt.Errorf("%s", bad.String())
		}
		return nil, err
	}
	p := &Plan{
		Title: f.Title, Materials: f.Materials, Order: f.Order, Consent: f.Consent, Names: f.Names,
		Sitting: f.Session.Sitting, SPL: f.Level.SPL, Meter: f.Level.Meter, RoomNR: hearing.DefaultRoomNR, Listeners: f.Stop.Listeners, Text: string(text),
	}
	if f.Level.Room != nil {
		p.RoomNR = *f.Level.Room
	}
	sum := sha256.Sum256(text)
	p.Hash = hex.EncodeToString(sum[:])
	if err := errors.Join(p.readDurations(&f), p.readSettings(&f)); err != nil {
		return nil, err
	}
	return p, p.check()
}

func (p *Plan) readSettings(f *planFile) error {
	s := Defaults(f.Method)
	s.Method = f.Method
	for dst, src := range map[*int]*int{
		&s.Trials: f.Session.Trials, &s.Practice: f.Session.Practice, &s.Down: f.Session.Down, &s.Reversals: f.Session.Reversals,
		&s.CatchEvery: f.Session.CatchEvery, &s.BreakEvery: f.Session.BreakEvery, &s.MissedLarge: f.Exclude.MissedLarge,
	} {
		if src != nil {
			*dst = *src
		}
	}
	for dst, src := range map[*float64]*float64{
		&s.Step: f.Session.Step, &s.Alpha: f.Power.Alpha, &s.Share: f.Power.Share, &s.Power: f.Power.Power, &s.Screening: f.Exclude.Screening,
	} {
		if src != nil {
			*dst = *src
		}
	}
	var faults []error
	for name, c := range map[string]struct {
		dst *float64
		src *string
	}{"session.break": {&s.Break, f.Session.Break}, "session.minimum_listening": {&s.Listen, f.Session.Listen}} {
		if c.src == nil {
			continue
		}
		d, err := time.ParseDuration(*c.src)
		if err != nil {
			faults = append(faults, fmt.Errorf(`%s: found %q, want a time such as "30s"`, name, *c.src))
		}
		*c.dst = d.Seconds()
	}
	if f.Session.Quiescent != nil {
		q, err := quantity.Parse(*f.Session.Quiescent, quantity.Ampere)
		if err != nil {
			faults = append(faults, fmt.Errorf("session.quiescent: %w", err))
		}
		s.Quiescent = q
	}
	p.Settings = s
	p.expect(f)
	return errors.Join(faults...)
}

// expect reads what the panel's mean should not miss; of what the plan leaves out the
// values are this project's choice: 2 dB at a standard deviation of 3 dB, half a grade at
// 0.7 grades.
func (p *Plan) expect(f *planFile) {
	p.Difference, p.Between = 2, 3
	if p.Settings.Graded() {
		p.Difference, p.Between = 0.5, 0.7
	}
	if f.Power.Difference != nil {
		p.Difference = *f.Power.Difference
	}
	if f.Power.Between != nil {
		p.Between = *f.Power.Between
	}
}

// Needed is how many kept listeners give the plan's power, and against what, in words: by
// the exact binomial test of all answers of a triangle test together, else by a t test of
// the mean threshold or mean grade.
func (p *Plan) Needed() (listeners int, against string, err error) {
	set := p.Settings
	if set.Method == Triangle {
		listeners, err = statistics.ListenersForCount(set.Trials, statistics.GuessThree, set.ability(), set.Alpha, set.Power)
		return listeners, fmt.Sprintf("listeners who truly hear %s of the trials, all answers counted together", percentText(set.Share)), err
	}
	listeners, err = statistics.ListenersForMean(p.Difference, p.Between, set.Alpha, set.Power)
	unit := "dB of the mean threshold"
	if set.Graded() {
		unit = "of the mean grade"
	}
	return listeners, fmt.Sprintf("a difference of %g %s where listeners differ by %g (standard deviation)", p.Difference, unit, p.Between), err
}

// Power says what [Plan.Needed] does in a sentence, with what the plan provides for.
func (p *Plan) Power() string {
	n, against, err := p.Needed()
	if err != nil {
		return "No number of listeners gives the power that the plan asks for: " + strings.TrimPrefix(err.Error(), "statistics: ") + "."
	}
	text := fmt.Sprintf("A power of %g at size %g against %s needs %d kept %s", p.Settings.Power, p.Settings.Alpha, against, n, plural(n, "listener", "listeners"))
	switch {
	case p.Listeners == 0:
		return text + "; the plan names no number."
	case p.Listeners < n:
		return text + fmt.Sprintf("; the plan ends after %d, which is too few for it.", p.Listeners)
	}
	return text + fmt.Sprintf("; the plan ends after %d.", p.Listeners)
}

func (p *Plan) readDurations(f *planFile) (err error) {
	if f.Session.Pause == "" {
		return nil
	}
	if p.Pause, err = time.ParseDuration(f.Session.Pause); err != nil {
		return fmt.Errorf(`session.pause: found %q, want a time such as "10m"`, f.Session.Pause)
	}
	return nil
}

// RoomNR is the noise rating of the room that the plan states; the default's for none.
func (r *Registration) RoomNR() float64 {
	if r != nil {
		if p, err := ReadPlan(strings.NewReader(r.Text)); err == nil {
			return p.RoomNR
		}
	}
	return hearing.DefaultRoomNR
}

// check refuses what no study can be made of.
func (p *Plan) check() error {
	if err := p.Settings.Validate(); err != nil {
		return err
	}
	_, power := p.Settings.Plan()
	switch {
	case p.Order != latinSquare && p.Order != asListed:
		return fmt.Errorf("order: found %q, want %s or %s", p.Order, latinSquare, asListed)
	case p.Sitting < 0 || p.Sitting > 100:
		return fmt.Errorf("session.materials_per_sitting: found %d, want 0 (all) to 100", p.Sitting)
	case p.Pause < 0 || p.Pause > 30*24*time.Hour:
		return fmt.Errorf("session.pause: found %v, want 0 to 720h", p.Pause)
	case p.SPL != 0 && !(p.SPL >= 40 && p.SPL <= mostSPL):
		return fmt.Errorf("level.spl: found %g dB(A), want 40 to %g", p.SPL, mostSPL)
	case !(p.RoomNR >= 0 && p.RoomNR <= hearing.MaximumRoomNR):
		return fmt.Errorf("level.room_nr: found %g, want 0 to %g", p.RoomNR, hearing.MaximumRoomNR)
	case !(p.Difference > 0 && p.Difference <= 100) || !(p.Between > 0 && p.Between <= 100):
		return fmt.Errorf("power.difference and power.between: found %g and %g, want above 0 to 100", p.Difference, p.Between)
	case p.Listeners < 0 || p.Listeners > 10000:
		return fmt.Errorf("stop.listeners: found %d, want 0 (no end) to 10000", p.Listeners)
	case p.Settings.Method == Triangle && power < p.Settings.Power:
		need, err := statistics.MinimumTrials(statistics.GuessThree, p.Settings.ability(), p.Settings.Alpha, p.Settings.Power)
		if err != nil {
			return err
		}
		return fmt.Errorf("session.trials: %d trials have a power of %.2f and the plan asks for %.2f; %d trials have it", p.Settings.Trials, power, p.Settings.Power, need.Trials)
	}
	for i, m := range p.Materials {
		if slices.Contains(p.Materials[:i], m) {
			return fmt.Errorf("materials: %q stands there twice", m)
		}
	}
	return nil
}

// orderOf returns the order in which a listener, counted from 1, hears the materials.
func (p *Plan) orderOf(listener int, materials []string) []string {
	if p.Order == asListed {
		return materials
	}
	rows := balancedSquare(len(materials))
	out := make([]string, len(materials))
	for i, at := range rows[(listener-1)%len(rows)] {
		out[i] = materials[at]
	}
	return out
}

// balancedSquare returns the rows of a Latin square of n in which each follows each
// other equally often: n rows when n is even, twice as many when it is odd.
func balancedSquare(n int) [][]int {
	first := make([]int, n)
	for i := range first {
		first[i] = (i + 1) / 2
		if i%2 == 0 {
			first[i] = (n - i/2) % n
		}
	}
	var rows [][]int
	for shift := range n {
		row := make([]int, n)
		for i, v := range first {
			row[i] = (v + shift) % n
		}
		rows = append(rows, row)
	}
	if n%2 == 1 && n > 1 {
		for _, row := range slices.Clone(rows) {
			back := slices.Clone(row)
			slices.Reverse(back)
			rows = append(rows, back)
		}
	}
	return rows
}
