package survey

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus"
	"quietcross/dsp/level"
)

// Run surveys the library that roots name (folders, list files, single recordings) and
// keeps what it finds in folder dir, which is made; where dir holds the beginning of the
// same survey, it goes on from there. It writes what is to be listened to into dir and
// returns the result. A recording that cannot be read is in the result with the reason;
// the error is that of the options, of the folder (test for [ErrTerms] and [ErrFull]) or
// of a context that has ended.
func Run(ctx context.Context, dir string, roots []string, o Options) (*Result, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	release, err := claim(dir)
	if err != nil {
		return nil, err
	}
	r, err := run(ctx, dir, roots, &o)
	return r, errors.Join(err, release())
}

// claim makes the folder of a survey, or takes it for this process alone.
func claim(dir string) (release func() error, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	if _, err := os.Stat(filepath.Join(dir, StoreFile)); err != nil && len(entries) > 0 && !onlyOwn(entries) {
		return nil, fmt.Errorf("%s: holds files and no survey: name another folder", dir)
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	return corpus.Claim(filepath.Join(dir, lockFile), fmt.Sprintf("process %d", os.Getpid()))
}

const lockFile = "survey.lock"

// onlyOwn tells whether a folder holds nothing but what a run leaves that was killed
// before it had begun.
func onlyOwn(entries []os.DirEntry) bool {
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), StoreFile) && e.Name() != lockFile {
			return false
		}
	}
	return true
}

// A runner is one run of a survey.
type runner struct {
	*Options
	head   Head
	hearer hearer
	store  *store

	mu   sync.Mutex
	done int // recordings finished in this run
	todo int
}

func run(ctx context.Context, dir string, roots []string, o *Options) (r *Result, err error) {
	w := &runner{Options: o, hearer: o.hear}
	if w.head, w.hearer, err = o.prepare(); err != nil {
		return nil, err
	}
	terms, err := o.terms()
	if err != nil {
		return nil, err
	}
	if w.store, err = openStore(dir, terms); err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, w.store.Close()) }()
	if err := w.store.head(&w.head); err != nil {
		return nil, err
	}
	if err := w.listen(ctx, dir, roots); err != nil {
		return nil, err
	}
	r = &Result{Schema: SchemaVersion, Head: w.head}
	if o.Part != Whole {
		r.Part = o.Part.String()
	}
	if err := r.gather(ctx, w.store, o.Part.Takes); err != nil {
		return nil, err
	}
	r.finish()
	return r, w.writeWorst(ctx, dir, r)
}

// prepare returns the head of the result and what hears.
func (o *Options) prepare() (Head, hearer, error) {
	head := Head{
		Excerpts: o.Excerpts, Length: o.Length, Seed: o.Seed, Volume: o.Volume, Level: o.Level,
		Loudness: o.Loudness, Heard: o.Heard, Limit: o.Limit,
	}
	s, err := newSearcher(o)
	if err != nil {
		return head, nil, err
	}
	for i, spec := range o.Stages {
		ladder := s.benches[i].Ladder()
		head.Stages = append(head.Stages, StageHead{
			Name: spec.Name, Title: spec.Title, Drive: ladder.Drive(), Optimum: ladder.Stage().OptimumQuiescent(),
			Searched: s.searched(i),
		})
	}
	if o.hear != nil {
		return head, o.hear, nil
	}
	return head, s, nil
}

// listen lists the library and works on what is not finished.
func (w *runner) listen(ctx context.Context, dir string, roots []string) error {
	files, err := List(roots, append([]string{dir}, w.Skip...))
	if err != nil {
		return err
	}
	list := make([]listed, len(files))
	for i, f := range files {
		list[i].File = f
		if info, err := os.Stat(f.Path); err == nil {
			list[i].size, list[i].changed = info.Size(), info.ModTime().UnixNano()
		}
	}
	if err := w.store.list(list); err != nil {
		return err
	}
	var todo []listed
	for _, l := range list {
		if !w.Part.Takes(l.Name) {
			continue
		}
		known, err := w.known(ctx, l)
		if err != nil {
			return err
		}
		if known == nil || !known.complete(w.head.Stages) {
			todo = append(todo, l)
		}
	}
	w.todo = len(todo)
	group, working := errgroup.WithContext(ctx)
	group.SetLimit(w.Workers)
	for _, l := range todo {
		if working.Err() != nil {
			break
		}
		group.Go(func() error { return w.one(working, l) })
	}
	if err := group.Wait(); err != nil {
		return err
	}
	return ctx.Err()
}

// known returns what is kept of a file's recording, nil where it was not read yet.
func (w *runner) known(ctx context.Context, l listed) (*Recording, error) {
	if l.id == "" {
		return nil, nil
	}
	return w.store.recording(ctx, l.id)
}

// one works on one recording. Trouble with the file is kept as the reason why it was not
// surveyed; the error is that of the store or of a context that has ended.
func (w *runner) one(ctx context.Context, l listed) error {
	r, err := w.known(ctx, l)
	if err != nil {
		return err
	}
	if r == nil {
		if r, err = w.read(ctx, l.File); err != nil {
			return w.refuse(ctx, l.File, err)
		}
		if err := w.store.identify(l.File, r); err != nil {
			return err
		}
		if r, err = w.store.recording(ctx, r.ID); err != nil { // outcomes of the same content may be kept
			return err
		}
	}
	for _, e := range r.Excerpts {
		if err := w.hear(ctx, l.File, r, e); err != nil {
			return err
		}
	}
	w.tell()
	return nil
}

// tell counts a recording as done.
func (w *runner) tell() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.done++
	if w.Progress != nil {
		w.Progress(float64(w.done) / float64(w.todo))
	}
}

// refuse keeps why a file was not surveyed.
func (w *runner) refuse(ctx context.Context, f File, why error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	w.tell()
	return w.store.refuse(f, f.reason(why))
}

// read reads a recording and chooses its excerpts. A decoder that panics on a damaged
// file must not end the survey of all others.
func (w *runner) read(ctx context.Context, f File) (r *Recording, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("its reader failed: %v (%.200s)", p, debug.Stack())
		}
	}()
	s, err := f.scan(ctx)
	if err != nil {
		return nil, err
	}
	r = &Recording{Name: strings.ToValidUTF8(f.Name, "\uFFFD"), Properties: s.Properties}
	for _, warning := range s.warnings {
		r.Warnings = append(r.Warnings, f.reason(errors.New(warning)))
	}
	if r.ID, err = f.identity(); err != nil {
		return nil, err
	}
	if r.Excerpts, r.Without = choose(s, r.ID, w.Options); len(r.Excerpts) == 0 {
		return nil, fmt.Errorf("no excerpt: %s", strings.Join(r.Without, "; "))
	}
	return r, nil
}

// hear hears one excerpt through every stage through which it was not heard yet.
func (w *runner) hear(ctx context.Context, f File, r *Recording, e Excerpt) error {
	h := heard{Excerpt: e, name: r.Name}
	h.level, h.limited = w.volume(&r.Properties)
	for i, stage := range w.head.Stages {
		if r.has(stage.Name, e.Kind) {
			continue
		}
		if h.audio == nil {
			var err error
			if h.audio, h.rate, err = f.cut(ctx, e); err != nil {
				return w.refuse(ctx, f, err)
			}
		}
		outcome, err := w.hearer.hear(ctx, i, h)
		if err != nil {
			return err
		}
		if err := ctx.Err(); err != nil { // an outcome that was cut short is none
			return err
		}
		if err := w.store.keep(r.ID, stage.Name, &outcome); err != nil {
			return err
		}
	}
	return nil
}

// volume is the level re the drive at which a recording is played, and whether it could
// not be turned up as far as asked for.
func (o *Options) volume(p *Properties) (l level.DB, limited bool) {
	if o.Volume == VolumeSet {
		return o.Level, false
	}
	wanted := o.Loudness - p.Loudness
	return min(wanted, -p.Peak), wanted > -p.Peak
}

// writeWorst writes what is to be listened to of the worst recordings. What lies there of
// an earlier run is the same and stays.
func (w *runner) writeWorst(ctx context.Context, dir string, r *Result) error {
	files, err := w.store.files(ctx)
	if err != nil {
		return err
	}
	byID := map[string]File{}
	for _, f := range files {
		byID[f.id] = f.File
	}
	for i := range r.Distributions {
		for _, worst := range r.Distributions[i].Worst {
			if err := w.writePair(ctx, dir, i, byID[worst.ID], worst, r); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *runner) writePair(ctx context.Context, dir string, stage int, f File, worst Worst, r *Result) error {
	reference, rendering := filepath.Join(dir, filepath.FromSlash(worst.Reference)), filepath.Join(dir, filepath.FromSlash(worst.Rendering))
	if _, err := os.Stat(rendering); err == nil { // written last
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(reference), 0o777); err != nil {
		return err
	}
	recording, err := w.store.recording(ctx, worst.ID)
	if err != nil {
		return err
	}
	for _, e := range recording.Excerpts {
		if e.Kind != worst.Kind {
			continue
		}
		h := heard{Excerpt: e, name: recording.Name}
		h.level, _ = w.volume(&recording.Properties)
		if h.audio, h.rate, err = f.cut(ctx, e); err != nil {
			return fmt.Errorf("%s: to be listened to: %w", worst.Name, err)
		}
		if err := w.hearer.listen(ctx, stage, h, worst.Heard, reference, rendering); err != nil {
			return fmt.Errorf("%s: to be listened to: %w", worst.Name, err)
		}
	}
	return nil
}
