package survey

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"quietcross/dsp/whole"
)

// Parts of one survey are joined from what each has kept. Every part has listed the whole
// library, so that what no part has worked on is known by name; recordings that two parts
// have are taken once.

// Merge joins the parts of a survey, each named by its folder, copies what is to be
// listened to into folder dir, which is made, and returns the result: where nothing is
// missing it is equal to that of one run over the whole library. Parts with different
// options are refused with [ErrTerms].
func Merge(ctx context.Context, dir string, folders []string) (*Result, error) {
	r := &Result{Schema: SchemaVersion}
	var first []term
	var have []Part
	for i, folder := range folders {
		terms, part, err := r.add(ctx, folder)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			first = terms
		} else if names := differences(first, terms); len(names) > 0 {
			return nil, fmt.Errorf("survey: %s and %s: %w: %s", folders[0], folder, ErrTerms, strings.Join(names, ", "))
		}
		have = append(have, part)
	}
	if err := r.lacking(have); err != nil {
		return nil, err
	}
	r.finish()
	return r, r.copyWorst(dir, folders)
}

// add gathers what a part has kept.
func (r *Result) add(ctx context.Context, folder string) (terms []term, part Part, err error) {
	s, terms, err := readStore(folder)
	if err != nil {
		return nil, part, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	for _, t := range terms {
		if t.Name == partTerm {
			if part, err = parsePartTerm(t.Value); err != nil {
				return nil, part, err
			}
		}
	}
	if r.Head, err = s.readHead(); err != nil {
		return nil, part, err
	}
	terms = slices.DeleteFunc(terms, func(t term) bool { return t.Name == partTerm })
	return terms, part, r.gather(ctx, s, part.Takes)
}

// lacking warns of parts that are not there.
func (r *Result) lacking(have []Part) error {
	if len(have) == 0 {
		return errors.New("survey: no parts to merge")
	}
	var absent []string
	for k := 1; k <= have[0].N; k++ {
		if !slices.Contains(have, Part{k, have[0].N}) {
			absent = append(absent, Part{k, have[0].N}.String())
		}
	}
	for _, p := range have {
		if p.N != have[0].N {
			return fmt.Errorf("survey: %w: parts %v and %v: the library was divided in two ways", ErrTerms, have[0], p)
		}
	}
	if len(absent) > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("Parts are missing: %s.", strings.Join(absent, ", ")))
	}
	return nil
}

// gather adds what a store has kept of the files that it takes; the others of its
// library, and those that are not finished, count as missing until another has them.
func (r *Result) gather(ctx context.Context, s *store, takes func(name string) bool) error {
	files, err := s.files(ctx)
	if err != nil {
		return err
	}
	for _, f := range files {
		if !takes(f.Name) {
			r.Missing = append(r.Missing, f.Name)
			continue
		}
		if f.reason != "" {
			r.Refused = append(r.Refused, Refusal{strings.ToValidUTF8(f.Name, "\uFFFD"), f.reason})
			continue
		}
		recording, err := s.recording(ctx, f.id)
		if err != nil {
			return err
		}
		if recording == nil || !recording.complete(r.Head.Stages) {
			r.Missing = append(r.Missing, f.Name)
			continue
		}
		if reason := recording.conclude(r.Head.Stages); reason != "" {
			r.Refused = append(r.Refused, Refusal{recording.Name, reason})
			continue
		}
		r.Recordings = append(r.Recordings, *recording)
	}
	return nil
}

// finish puts in order what was gathered and concludes.
func (r *Result) finish() {
	r.order()
	r.Recordings = slices.CompactFunc(r.Recordings, func(a, b Recording) bool { return a.ID == b.ID })
	r.Refused = slices.Compact(r.Refused)
	done := map[string]bool{}
	for i := range r.Recordings {
		done[r.Recordings[i].Name] = true
	}
	for _, refused := range r.Refused {
		done[refused.Name] = true
	}
	r.Missing = slices.DeleteFunc(slices.Compact(r.Missing), func(name string) bool {
		return done[strings.ToValidUTF8(name, "\uFFFD")]
	})
	for i, name := range r.Missing {
		r.Missing[i] = strings.ToValidUTF8(name, "\uFFFD")
	}
	if r.Part != "" {
		r.Missing = nil // the other parts'
	}
	r.warn()
	r.conclude()
}

// copyWorst copies what is to be listened to from the parts.
func (r *Result) copyWorst(dir string, folders []string) error {
	if err := os.MkdirAll(filepath.Join(dir, "worst"), 0o777); err != nil {
		return err
	}
	for i := range r.Distributions {
		for _, worst := range r.Distributions[i].Worst {
			for _, name := range []string{worst.Reference, worst.Rendering} {
				if err := copyFirst(dir, folders, filepath.FromSlash(name)); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// copyFirst copies a file from the first folder that has it; a part that was not finished
// has none.
func copyFirst(dir string, folders []string, name string) error {
	for _, folder := range folders {
		from, err := os.Open(filepath.Join(folder, name))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		err = whole.Write(filepath.Join(dir, name), func(w io.Writer) error {
			_, err := io.Copy(w, from)
			return err
		})
		return errors.Join(err, from.Close())
	}
	return nil
}
