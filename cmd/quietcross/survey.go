package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/reports/survey"
	"quietcross/stage/quantity"

	"quietcross/corpus/render"
)

const surveyDescription = `Takes a library of recordings (folders of WAV and FLAC files, or list files with one
path a line) and finds for each the quiescent current from which crossover distortion
is predicted clean, on excerpts chosen by rule. Answers with the share of the library
that is clean against the current, the current for 50, 90 and 99 % of it, and the
worst recordings.

   quietcross survey music
   quietcross survey --stage pair-12w --stage my-amp.toml --playback 85 music more.txt
   quietcross survey --part 2/4 --out part-2 music
   quietcross survey merge --out whole part-1 part-2 part-3 part-4

What is finished is kept at once: after an interruption, or when the library has
grown, the same command goes on from there. Writes survey.html, survey.json and
survey.csv into the output folder. corpus/LIBRARY.md tells how to divide a library
among the machines of a batch scheduler.`

// Files of a survey's folder.
const (
	surveyPage = "survey.html"
	surveyJSON = "survey.json"
	surveyCSV  = "survey.csv"
)

func surveyCommand() *cli.Command {
	usual := survey.DefaultOptions()
	return &cli.Command{
		Name:         "survey",
		Usage:        "how much of a library of music is predicted clean at which current",
		ArgsUsage:    "FOLDER|LIST...",
		Description:  surveyDescription,
		OnUsageError: onUsageError,
		Flags: append([]cli.Flag{
			&cli.StringSliceFlag{Name: "stage", Aliases: []string{"s"}, Usage: "built-in stage `NAME` or stage file; repeat to compare (default: " + defaultStage + ")"},
			&cli.StringFlag{Name: "excerpts", Value: "quiet,fade,loud", Usage: "`KINDS` of excerpt from each recording: quiet, fade, loud"},
			&cli.StringFlag{Name: "length", Value: "10s", Usage: "length of an excerpt, `SECONDS`, 3 to 60"},
			&cli.Uint64Flag{Name: "seed", Value: usual.Seed, Usage: "`SEED` of the choice of excerpts and of the intervals"},
			&cli.StringFlag{Name: "volume", Value: string(usual.Volume), Usage: "volume `HOW`: set (once for the library) or turned-up (each recording to --loudness)"},
			&cli.Float64Flag{Name: "level", Usage: "with --volume set: level re the drive, `DB`"},
			&cli.Float64Flag{Name: "loudness", Value: float64(usual.Loudness), Usage: "with --volume turned-up: programme loudness, `LUFS`"},
			&cli.StringFlag{Name: "range", Usage: "search quiescent currents `FROM..TO` (default: a thousandth to ten times the optimum)"},
			&cli.Float64Flag{Name: "limit", Value: audibility.DefaultLimit, Usage: "probability of detection that counts as predicted heard"},
			&cli.StringFlag{Name: "part", Usage: "work on part `K/N` of the library; auto: that of this task of an array job"},
			&cli.IntFlag{Name: "parts", DefaultText: "none", Usage: "with --part auto: number `N` of parts, tasks numbered from 0"},
			driveFlag(), solverFlag(), workersFlag("recordings"), jsonFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-survey", Usage: "keep the survey in `FOLDER`, and go on from what is there"},
		}, listeningFlags()...),
		Action: runSurvey,
		Subcommands: []*cli.Command{{
			Name:      "merge",
			Usage:     "join the parts of a survey",
			ArgsUsage: "PART...",
			Description: `Joins what the parts have kept, and says what is missing. Parts are left as they are.

   quietcross survey merge --out whole part-0 part-1 part-2 part-3`,
			OnUsageError: onUsageError,
			Flags: []cli.Flag{
				jsonFlag(),
				&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-survey-merged", Usage: "write the result to `FOLDER`"},
				&cli.BoolFlag{Name: "force", Usage: "replace the result in the output folder, if there is one"},
			},
			Action: mergeSurvey,
		}},
	}
}

func runSurvey(c *cli.Context) error {
	o, err := surveyOptions(c)
	if err != nil {
		return err
	}
	if !c.Args().Present() {
		return usagef(c, "no library: name folders of recordings, or list files")
	}
	for _, root := range c.Args().Slice() {
		if err := checkArgument(c, root); err != nil {
			return err
		}
	}
	debug.SetMemoryLimit(max(memoryLimit, int64(o.Workers)*memoryLimit/2))
	line := newProgressLine(c, "surveying")
	defer line.done()
	o.Progress = line.report
	out := c.String("out")
	result, err := survey.Run(c.Context, out, c.Args().Slice(), o)
	line.done()
	if errors.Is(err, survey.ErrTerms) {
		return wrapUsage(c, err)
	}
	if err != nil {
		return err
	}
	nameProgram(result)
	if err := writeSurvey(out, result); err != nil {
		return err
	}
	return printSurvey(c, result)
}

func mergeSurvey(c *cli.Context) error {
	if !c.Args().Present() {
		return usagef(c, "no parts: name the folders of a survey's parts")
	}
	var result *survey.Result
	for _, part := range c.Args().Slice() {
		if err := checkArgument(c, part); err != nil {
			return err
		}
		if corpus.Inside(c.String("out"), part) {
			return usagef(c, "%s lies in the output folder %s: choose another folder with --out", part, c.String("out"))
		}
	}
	err := outputFolder(c, surveyJSON).Create(func(dir string) (err error) {
		if result, err = survey.Merge(c.Context, dir, c.Args().Slice()); err != nil {
			return err
		}
		nameProgram(result)
		return writeSurvey(dir, result)
	})
	if errors.Is(err, survey.ErrTerms) {
		return wrapUsage(c, err)
	}
	if err != nil {
		return folderError(c, err)
	}
	return printSurvey(c, result)
}

// memoryLimit is from where on memory is given back at once, bytes; beyond two workers of a
// survey each takes half as much more. It changes no result.
const memoryLimit = 200 << 20

func nameProgram(r *survey.Result) { r.Program, r.Version = "quietcross", programVersion() }

func writeSurvey(dir string, r *survey.Result) error {
	for _, file := range []struct {
		name  string
		write func(io.Writer) error
	}{{surveyCSV, r.WriteCSV}, {surveyPage, r.WritePage}, {surveyJSON, r.WriteJSON}} {
		if err := corpus.WriteFile(filepath.Join(dir, file.name), file.write); err != nil {
			return err
		}
	}
	return nil
}

func printSurvey(c *cli.Context, r *survey.Result) error {
	if c.Bool("json") {
		return r.WriteJSON(c.App.Writer)
	}
	if err := r.WriteTable(c.App.Writer); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.App.Writer, "\nOpen %s\n", filepath.Join(c.String("out"), surveyPage))
	return err
}

// surveyOptions reads the command line.
func surveyOptions(c *cli.Context) (survey.Options, error) {
	o := survey.DefaultOptions()
	names := c.StringSlice("stage")
	if len(names) == 0 {
		names = []string{defaultStage}
	}
	for _, name := range names {
		spec, err := loadStage(c, name)
		if err != nil {
			return o, err
		}
		o.Stages = append(o.Stages, spec)
	}
	o.Excerpts = nil
	for name := range strings.SplitSeq(c.String("excerpts"), ",") {
		o.Excerpts = append(o.Excerpts, survey.Kind(strings.TrimSpace(name)))
	}
	o.Seed, o.Volume, o.Limit = c.Uint64("seed"), survey.Volume(c.String("volume")), c.Float64("limit")
	o.Level, o.Loudness = level.DB(c.Float64("level")), level.DB(c.Float64("loudness"))
	for _, set := range []func(*cli.Context, *survey.Options) error{setLength, setRange, setPassage, setPart} {
		if err := set(c, &o); err != nil {
			return o, err
		}
	}
	return o, wrapUsage(c, o.Check())
}

func setLength(c *cli.Context, o *survey.Options) (err error) {
	if o.Length, err = quantity.Parse(c.String("length"), quantity.Second); err != nil {
		return usagef(c, "--length: %w", err)
	}
	return nil
}

func setRange(c *cli.Context, o *survey.Options) error {
	if !c.IsSet("range") {
		return nil
	}
	ends, err := parseList(c.String("range")+"/2", parseUnit(quantity.Ampere), true)
	if err != nil || len(ends) != 2 {
		return usagef(c, "--range: found %q, write FROM..TO, for example 10uA..500mA", c.String("range"))
	}
	o.Low, o.High = ends[0], ends[1]
	return nil
}

// setPassage reads how recordings pass through the stage and are heard.
func setPassage(c *cli.Context, o *survey.Options) (err error) {
	var r render.Options
	for _, set := range []func(*cli.Context, *render.Options) error{setDrive, setSolver} {
		if err := set(c, &r); err != nil {
			return err
		}
	}
	o.Drive, o.Solver = r.Drive, r.Solver
	if o.Workers, err = parseWorkers(c); err != nil {
		return err
	}
	o.Heard, err = parseListening(c)
	return err
}

func setPart(c *cli.Context, o *survey.Options) (err error) {
	if !c.IsSet("part") {
		if c.IsSet("parts") {
			return usagef(c, "--parts goes with --part auto")
		}
		return nil
	}
	if o.Part, err = survey.ParsePart(c.String("part"), c.Int("parts"), os.Getenv); err != nil {
		return usagef(c, "--part: %w", err)
	}
	return nil
}
