package hearing

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"quietcross/dsp/level"
)

// The listener file: TOML with the efficiency that a listening test found, so that
// other commands predict for the same ears.
//
//	model = "2026-11-28"
//	efficiency_db = -1.8
//	low_db = -2.9
//	high_db = -0.7
//	trials = 150
//	date = "2026-11-28"
//
// All keys are needed and no other is legal. A file of another model version is
// refused, for its efficiency belongs to that model's thresholds.

// maximumProfile bounds a listener file, in bytes.
const maximumProfile = 1 << 16

// Profile is the content of a listener file.
type Profile struct {
	// Model is the [ModelVersion] of the fit.
	Model string
	Efficiency
	// Date is the day of the fit.
	Date time.Time
}

// FileError is a refusal of a listener file.
type FileError struct {
	File, Key string
	Err       error
}

func (e *FileError) Error() string {
	if e.Key == "" {
		return fmt.Sprintf("%s: %v", e.File, e.Err)
	}
	return fmt.Sprintf("%s: %s: %v", e.File, e.Key, e.Err)
}

func (e *FileError) Unwrap() error { return e.Err }

// profileKeys lists the legal keys in the order of writing.
var profileKeys = []string{"model", "efficiency_db", "low_db", "high_db", "trials", "date"}

// Write writes a listener file.
func (p *Profile) Write(w io.Writer) error {
	if err := p.check(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "model = %q\nefficiency_db = %.2f\nlow_db = %.2f\nhigh_db = %.2f\ntrials = %d\ndate = %q\n",
		p.Model, float64(p.DB), float64(p.Low), float64(p.High), p.Trials, p.Date.Format(time.DateOnly))
	return err
}

// ReadProfile reads a listener file. Unknown, missing and impossible values are
// refused with a *FileError that gives file name, key, what was found and what is legal.
func ReadProfile(r io.Reader, name string) (Profile, error) {
	data, err := io.ReadAll(io.LimitReader(r, maximumProfile+1))
	if err != nil {
		return Profile{}, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maximumProfile {
		return Profile{}, &FileError{File: name, Err: fmt.Errorf("longer than a listener file may be, %d bytes", maximumProfile)}
	}
	values := map[string]any{}
	if err := toml.Unmarshal(data, &values); err != nil {
		return Profile{}, &FileError{File: name, Err: err}
	}
	p, err := profileOf(values)
	if refused := (*FileError)(nil); errors.As(err, &refused) {
		refused.File = name
	}
	return p, err
}

func profileOf(values map[string]any) (p Profile, err error) {
	for key := range values {
		if !slices.Contains(profileKeys, key) {
			return p, &FileError{Key: key, Err: fmt.Errorf("unknown; legal are %s", strings.Join(profileKeys, ", "))}
		}
	}
	for _, key := range profileKeys {
		if _, ok := values[key]; !ok {
			return p, &FileError{Key: key, Err: errors.New("missing")}
		}
	}
	for _, take := range []func() error{
		func() error { return takeText(values, "model", &p.Model) },
		func() error { return takeLevel(values, "efficiency_db", &p.DB) },
		func() error { return takeLevel(values, "low_db", &p.Low) },
		func() error { return takeLevel(values, "high_db", &p.High) },
		func() error { return p.takeTrials(values) },
		func() error { return p.takeDate(values) },
		p.check,
	} {
		if err := take(); err != nil {
			return Profile{}, err
		}
	}
	return p, nil
}

func takeText(values map[string]any, key string, to *string) error {
	text, ok := values[key].(string)
	if !ok {
		return &FileError{Key: key, Err: fmt.Errorf("found %v; legal is text in quotes", values[key])}
	}
	*to = text
	return nil
}

func takeLevel(values map[string]any, key string, to *level.DB) error {
	switch x := values[key].(type) {
	case float64:
		*to = level.DB(x)
	case int64:
		*to = level.DB(x)
	default:
		return &FileError{Key: key, Err: fmt.Errorf("found %v; legal is a number of decibels", values[key])}
	}
	return nil
}

func (p *Profile) takeTrials(values map[string]any) error {
	n, ok := values["trials"].(int64)
	if !ok || n > math.MaxInt32 {
		return &FileError{Key: "trials", Err: fmt.Errorf("found %v; legal is a whole number from 1 up", values["trials"])}
	}
	p.Trials = int(n)
	return nil
}

func (p *Profile) takeDate(values map[string]any) error {
	var text string
	if err := takeText(values, "date", &text); err != nil {
		return err
	}
	date, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return &FileError{Key: "date", Err: fmt.Errorf("found %q; legal is a day such as \"2026-11-27\"", text)}
	}
	p.Date = date
	return nil
}

// check refuses what no fit can have given.
func (p *Profile) check() error {
	const bound = MaximumEfficiency
	for _, x := range []struct {
		key  string
		db   level.DB
		from level.DB
		to   level.DB
	}{{"efficiency_db", p.DB, -bound, bound}, {"low_db", p.Low, -bound, p.DB}, {"high_db", p.High, p.DB, bound}} {
		if !(x.db >= x.from && x.db <= x.to) {
			return &FileError{Key: x.key, Err: fmt.Errorf("found %g; legal are %g to %g", float64(x.db), float64(x.from), float64(x.to))}
		}
	}
	switch {
	case p.Model != ModelVersion:
		return &FileError{Key: "model", Err: fmt.Errorf("found %q; this program's model is %q", p.Model, ModelVersion)}
	case p.Trials < 1:
		return &FileError{Key: "trials", Err: fmt.Errorf("found %d; legal is a whole number from 1 up", p.Trials)}
	case p.Date.IsZero():
		return &FileError{Key: "date", Err: errors.New("missing")}
	}
	return nil
}
