package main

import (
	"context"
	"fmt"
	"math"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"

	"quietcross/stage/quantity"
)

const audibilityDescription = `For every piece and level, finds the quiescent current above which the difference
from an ideal stage is no longer predicted to be noticed half of the time (75 % right
in two intervals), between which currents that threshold is to be expected, and where
in the piece the difference is heard first. The figures of ITU-R BS.1387 stand beside.

   quietcross audibility --material quiet-chord --material soft-wind
   quietcross audibility --stage my-amp.toml --level -50..0/6 --playback 85 song.wav

Writes a folder with audibility.html, audibility.json and excerpts to listen to.
It is a prediction, for the room and the listener stated: the judge is a blind test.`

// Files of an audibility folder.
const (
	audibilityPage = "audibility.html"
	audibilityJSON = "audibility.json"
)

func audibilityCommand() *cli.Command {
	return &cli.Command{
		Name:         "audibility",
		Usage:        "predict at which quiescent current crossover distortion is heard",
		ArgsUsage:    "FILE.wav...",
		Description:  audibilityDescription,
		OnUsageError: onUsageError,
		Flags: append(append(sourceFlags(), listeningFlags()...),
			stageFlag(), levelFlag(), driveFlag(), solverFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-audibility", Usage: "write the result to `FOLDER`"},
			&cli.BoolFlag{Name: "force", Usage: "replace the result in the output folder, if there is one"},
			&cli.Float64Flag{Name: "sensitivity", DefaultText: "not computed", Usage: "compute --playback from the drive and a loudspeaker of `DB` SPL at 1 W and 1 m"},
			&cli.Float64Flag{Name: "distance", Value: 2, Usage: "with --sensitivity: listener at `METRES`"},
			&cli.StringFlag{Name: "range", Usage: "search quiescent currents `FROM..TO` (default: a thousandth to ten times the optimum)"},
			&cli.IntFlag{Name: "per-decade", Value: audibility.DefaultPerDecade, Usage: "`CURRENTS` in a decade before crossings are narrowed, a multiple of 5"},
			&cli.Float64Flag{Name: "limit", Value: audibility.DefaultLimit, Usage: "probability of noticing, chance taken out, that counts as predicted audible"},
			workersFlag("pieces"),
		),
		Action: findAudibility,
	}
}

func findAudibility(c *cli.Context) error {
	search, err := newSearch(c)
	if err != nil {
		return err
	}
	var result *audibility.Result
	if err := checkInputs(c, search.sources, c.String("stage")); err != nil {
		return err
	}
	err = outputFolder(c, audibilityJSON).Create(func(dir string) (err error) {
		result, err = search.run(c, dir)
		return err
	})
	if err != nil {
		return folderError(c, err)
	}
	if err := result.WriteTable(c.App.Writer); err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "\nOpen %s\n", filepath.Join(c.String("out"), audibilityPage))
	return nil
}

// A search is a checked command line of audibility.
type search struct {
	bench   *render.Bench
	sources []render.Source
	levels  []level.DB
	options audibility.Options
	result  audibility.Result
}

func newSearch(c *cli.Context) (*search, error) {
	sources, err := parseSources(c)
	if err != nil {
		return nil, err
	}
	if err := checkFiles(sources); err != nil {
		return nil, err
	}
	var o render.Options
	if o.Spec, err = loadStage(c, c.String("stage")); err != nil {
		return nil, err
	}
	for _, set := range []func(*cli.Context, *render.Options) error{setLevels, setDrive, setSolver} {
		if err := set(c, &o); err != nil {
			return nil, err
		}
	}
	// By loudness, what is left of a level difference would itself be heard.
	o.Match = render.MatchGain
	if o.Levels == nil {
		o.Levels = render.DefaultLevels()
	}
	bench, err := render.NewBench(o)
	if err != nil {
		return nil, err
	}
	s := &search{bench: bench, sources: sources, levels: o.Levels}
	if s.options, err = searchOptions(c, bench); err != nil {
		return nil, err
	}
	s.result = audibility.New("quietcross", programVersion(), s.options)
	s.result.Stage, s.result.Title, s.result.Match = o.Spec.Name, o.Spec.Title, string(o.Match)
	s.result.Drive, s.result.Optimum = bench.Ladder().Drive(), bench.Ladder().Stage().OptimumQuiescent()
	return s, nil
}

// searchOptions reads the flags of the search itself.
func searchOptions(c *cli.Context, bench *render.Bench) (audibility.Options, error) {
	optimum := bench.Ladder().Stage().OptimumQuiescent()
	o := audibility.DefaultOptions(aboutOptimum(optimum))
	o.Limit, o.PerDecade = c.Float64("limit"), c.Int("per-decade")
	var err error
	if o.Workers, err = parseWorkers(c); err != nil {
		return o, err
	}
	if o.Heard, err = listening(c, bench); err != nil {
		return o, err
	}
	if c.IsSet("range") {
		ends, err := parseList(c.String("range")+"/2", parseUnit(quantity.Ampere), true)
		if err != nil || len(ends) != 2 {
			return o, usagef(c, "--range: found %q, write FROM..TO, for example 10uA..500mA", c.String("range"))
		}
		o.Low, o.High = ends[0], ends[1]
	} else if o.Low == 0 {
		return o, usagef(c, "this stage has no optimum current to search about: give --range FROM..TO")
	}
	return o, wrapUsage(c, o.Check())
}

// aboutOptimum is the range of currents, A, that is searched about an optimum: from a
// thousandth of it, as quiescent does, to ten times it.
func aboutOptimum(optimum float64) (low, high float64) { return optimum / 1e3, optimum * 10 }

// listening reads how the piece is heard, the playback level as told, or from the drive,
// the load, and a loudspeaker's sensitivity and distance.
func listening(c *cli.Context, bench *render.Bench) (hearing.Conditions, error) {
	heard, err := parseListening(c)
	switch {
	case err != nil:
		return heard, err
	case !c.IsSet("sensitivity") && c.IsSet("distance"):
		return heard, usagef(c, "--distance goes with --sensitivity")
	case !c.IsSet("sensitivity"):
		return heard, nil
	}
	if c.IsSet("playback") {
		return heard, usagef(c, "--playback and --sensitivity say the same thing twice: give one")
	}
	rms := bench.Ladder().Drive() / math.Sqrt2
	heard.Playback, err = hearing.SPL(rms, bench.Ladder().Stage().Spec().Load.Ohms, level.DB(c.Float64("sensitivity")), c.Float64("distance"))
	return heard, wrapUsage(c, err)
}

func (s *search) run(c *cli.Context, dir string) (*audibility.Result, error) {
	line := newProgressLine(c, "searching")
	defer line.done()
	s.options.Progress = func(done, total int) { line.report(float64(done) / float64(total)) }
	cases, err := audibility.Cases(s.bench, s.sources, s.levels, audibility.ToneNumbers(s.bench))
	if err != nil {
		return nil, err
	}
	r := &s.result
	if r.Findings, err = audibility.Run(c.Context, cases, s.options); err != nil {
		return nil, err
	}
	if r.Grids, err = audibility.Grids(r.Findings, s.options); err != nil {
		return nil, err
	}
	r.Correlations = audibility.Pool(r.Findings)
	if err := s.excerpts(c.Context, dir, cases); err != nil {
		return nil, err
	}
	if err := corpus.WriteFile(filepath.Join(dir, audibilityJSON), r.WriteJSON); err != nil {
		return nil, err
	}
	return r, corpus.WriteFile(filepath.Join(dir, audibilityPage), r.WritePage)
}

// excerpts cuts out, for each piece with a threshold, the moment that is heard
// first just below it.
func (s *search) excerpts(ctx context.Context, dir string, cases []audibility.Case) error {
	for i, f := range s.result.Findings {
		point, ok := f.LastAudible()
		if !ok {
			continue
		}
		base := fmt.Sprintf("%02d", i+1)
		e := audibility.Excerpt{
			Material: f.Material, Level: f.Level, Quiescent: point.Quiescent, From: point.When.From, To: point.When.To,
			Reference: base + "-reference.wav", Rendering: base + "-rendering.wav",
		}
		err := cases[i].WriteExcerpts(ctx, e.Quiescent, e.From, e.To, filepath.Join(dir, e.Reference), filepath.Join(dir, e.Rendering))
		if err != nil {
			return fmt.Errorf("%s: excerpt: %w", f.Material, err)
		}
		s.result.Excerpts = append(s.result.Excerpts, e)
	}
	return nil
}
