package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/reports/quiescent"
	"quietcross/reports/survey"
	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/parts"
	"quietcross/stage/quantity"
)

const quiescentDescription = `Sweeps the quiescent current of a stage from none to class A and works out what
each costs: distortion of tones, what is predicted to be noticed on the material, junction
temperatures in the hottest air, thermal stability, drift. Of the currents that meet every
limit with its margin it chooses the one of least heat, moved up only where the gain is
worth the heat: half the distortion, or half the amplification of drift, for up to twice
the power at rest, and never past the numerically best current. It says what binds, which
parts make that current, how to set it, and how many built units stay within; --write
writes the stage with those parts. Several stages are compared side by side.

   quietcross quiescent --material quiet-chord --material soft-wind pair-12w
   quietcross quiescent --hottest 50C --idle 8W --write chosen.toml my-amp.toml
   quietcross quiescent pair-12w pair-12w-multiplier darlington-30w

Without --material it listens to four built-in pieces; with --survey the minimum current
is that of a library that was surveyed, and curves and remedies still listen to the
pieces. Writes a folder with quiescent.html, quiescent.json and quiescent.csv.`

// Files of a quiescent folder.
const (
	quiescentPage = "quiescent.html"
	quiescentJSON = "quiescent.json"
	quiescentCSV  = "quiescent.csv"
)

// usualMaterial is listened to when none is named: quiet, sustained and dense.
var usualMaterial = []string{"quiet-chord", "soft-wind", "struck-string", "soft-speech"}

func quiescentCommand() *cli.Command {
	usual := quiescent.UsualTolerances()
	return &cli.Command{
		Name:         "quiescent",
		Usage:        "choose a quiescent current between hearing, heat and stability",
		ArgsUsage:    "STAGE|FILE.toml...",
		Description:  quiescentDescription,
		OnUsageError: onUsageError,
		Flags: append([]cli.Flag{
			&cli.StringSliceFlag{Name: "material", Aliases: []string{"m"}, Usage: "listen to built-in material `NAME`; may be repeated"},
			&cli.StringSliceFlag{Name: "file", Usage: "listen to `FILE.wav`, 48 kHz, up to 120 s; may be repeated"},
			&cli.StringFlag{Name: "survey", Usage: "ask no less than a library does: the survey.json in `FILE`"},
			&cli.Float64Flag{Name: "share", Value: 90, Usage: "with --survey: keep `PERCENT` of the library clean: 50, 90 or 99"},
			levelFlag(), driveFlag(),
			&cli.StringFlag{Name: "tone-level", Value: "0,-20,-40", Usage: "`LIST` of levels of the tones, dB re the drive"},
			&cli.Float64Flag{Name: "limit", Value: quiescent.DefaultDetection, Usage: "probability of noticing, chance taken out, that counts as predicted audible"},
			&cli.StringFlag{Name: "coldest", Value: "10C", Usage: "coldest air, `TEMPERATURE`"},
			&cli.StringFlag{Name: "hottest", Value: "40C", Usage: "hottest air, `TEMPERATURE`"},
			&cli.StringFlag{Name: "junction", Usage: "maximum junction `TEMPERATURE` (default: the stage file's)"},
			&cli.StringFlag{Name: "idle", Usage: "maximum power at rest, `WATTS` (default: no limit)"},
			&cli.Float64Flag{Name: "loop-gain", Value: quiescent.DefaultFeedback, Usage: "maximum thermal loop gain; the bias runs away at 1"},
			&cli.StringFlag{Name: "sink", Usage: "put every stage on a sink of `K/W` (default: the stage file's)"},
			&cli.IntFlag{Name: "units", Value: quiescent.DefaultUnits, Usage: "built units to draw, 0 for none"},
			&cli.Float64Flag{Name: "lot", Value: usual.Lot, Usage: "deviation of ln(saturation current) between units"},
			&cli.Float64Flag{Name: "mismatch", Value: usual.Mismatch, Usage: "deviation of ln(saturation current) within a pair"},
			&cli.Float64Flag{Name: "resistor", Value: usual.Resistor, Usage: "tolerance of the emitter resistors, a ratio"},
			&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of units and generated material"},
			workersFlag("things"),
			&cli.IntFlag{Name: "series", Value: int(parts.E24), Usage: "preferred values of the bias part: 24 for E24, 96 for E96"},
			&cli.StringFlag{Name: "write", Usage: "write the stage with the chosen parts to `FILE.toml`"},
			jsonFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-quiescent", Usage: "write the result to `FOLDER`"},
			&cli.BoolFlag{Name: "force", Usage: "replace the result in the output folder and the file of --write, if they are there"},
		}, listeningFlags()...),
		Action: chooseQuiescent,
	}
}

func chooseQuiescent(c *cli.Context) error {
	all, err := quiescentOptions(c)
	if err != nil {
		return err
	}
	if err := checkWritten(c, all); err != nil {
		return err
	}
	var report *quiescent.Report
	err = outputFolder(c, quiescentJSON).Create(func(dir string) (err error) {
		if report, err = runQuiescent(c, all); err != nil {
			return err
		}
		return writeQuiescent(dir, report)
	})
	if err != nil {
		return folderError(c, err)
	}
	if c.Bool("json") {
		err = report.WriteJSON(c.App.Writer)
	} else if err = report.WriteTable(c.App.Writer); err == nil {
		_, err = fmt.Fprintf(c.App.Writer, "\nOpen %s\n", filepath.Join(c.String("out"), quiescentPage))
	}
	return errors.Join(err, writeChosen(c, report.Stages[0]))
}

// checkWritten refuses a file to write that is there, or that several stages would share.
func checkWritten(c *cli.Context, all []quiescent.Options) error {
	path := c.String("write")
	if path == "" {
		return nil
	}
	if len(all) > 1 {
		return usagef(c, "--write is for one stage, found %d", len(all))
	}
	if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) && !c.Bool("force") {
		return usagef(c, "%s: exists already (--force replaces it)", path)
	}
	return nil
}

// writeChosen writes the stage with the chosen parts, where that is asked for.
func writeChosen(c *cli.Context, r *quiescent.Result) error {
	path := c.String("write")
	switch {
	case path == "":
		return nil
	case r.Parts == nil:
		return fmt.Errorf("--write %s: nothing written, since no current meets all limits: %s says why", path, filepath.Join(c.String("out"), quiescentPage))
	}
	spec, ok := r.Parts.Spec()
	if !ok {
		return fmt.Errorf("--write %s: nothing written: %s", path, r.Parts.Refusal)
	}
	if err := corpus.WriteFile(path, spec.Write); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.App.ErrWriter, "note: %s: %s as built, with %s\n", path,
		format.Quantity(r.Parts.Cold, "A"), r.Parts.Part())
	return err
}

// runQuiescent works out all stages, one after another.
func runQuiescent(c *cli.Context, all []quiescent.Options) (*quiescent.Report, error) {
	line := newProgressLine(c, "working out")
	defer line.done()
	var results []*quiescent.Result
	for i, o := range all {
		o.Progress = func(share float64) { line.report((float64(i) + share) / float64(len(all))) }
		r, err := quiescent.Run(c.Context, o)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", o.Spec.Name, err)
		}
		results = append(results, r)
	}
	return quiescent.New("quietcross", programVersion(), results), nil
}

func writeQuiescent(dir string, r *quiescent.Report) error {
	for _, file := range []struct {
		name  string
		write func(io.Writer) error
	}{{quiescentJSON, r.WriteJSON}, {quiescentCSV, r.WriteCSV}, {quiescentPage, r.WritePage}} {
		if err := corpus.WriteFile(filepath.Join(dir, file.name), file.write); err != nil {
			return err
		}
	}
	return nil
}

// quiescentOptions reads the command line: one set of options a stage.
func quiescentOptions(c *cli.Context) ([]quiescent.Options, error) {
	o := quiescent.DefaultOptions(stage.Spec{})
	var err error
	if o.Sources, err = quiescentSources(c); err != nil {
		return nil, err
	}
	var r render.Options
	for _, set := range []func(*cli.Context, *render.Options) error{setLevels, setDrive} {
		if err := set(c, &r); err != nil {
			return nil, err
		}
	}
	o.Drive = r.Drive
	if r.Levels != nil {
		o.Levels = r.Levels
	}
	tones, err := parseList(c.String("tone-level"), parseDecibels, false)
	if err != nil {
		return nil, usagef(c, "--tone-level: %w", err)
	}
	o.ToneLevels = nil
	for _, l := range tones {
		if l < lowestLevel || l > highestLevel {
			return nil, usagef(c, "--tone-level: found %g dB, legal is %d to %d dB", l, lowestLevel, highestLevel)
		}
		o.ToneLevels = append(o.ToneLevels, level.DB(l))
	}
	if o.Heard, err = parseListening(c); err != nil {
		return nil, err
	}
	if o.Workers, err = parseWorkers(c); err != nil {
		return nil, err
	}
	o.Tolerances.Lot, o.Tolerances.Mismatch, o.Tolerances.Resistor = c.Float64("lot"), c.Float64("mismatch"), c.Float64("resistor")
	o.Seed, o.Units = c.Uint64("seed"), c.Int("units")
	o.Parts.Series = parts.Series(c.Int("series"))
	return quiescentStages(c, o)
}

// quiescentSources reads what is listened to.
func quiescentSources(c *cli.Context) ([]render.Source, error) {
	names := c.StringSlice("material")
	if len(names) == 0 && len(c.StringSlice("file")) == 0 {
		names = usualMaterial
	}
	var sources []render.Source
	for _, name := range names {
		m, err := signal.Lookup(name)
		if err != nil {
			return nil, wrapUsage(c, err)
		}
		sources = append(sources, render.Material{Material: m, Rate: 48000, Seed: c.Uint64("seed")})
	}
	for _, path := range c.StringSlice("file") {
		sources = append(sources, render.File{Path: path})
	}
	return sources, checkFiles(sources)
}

// quiescentLibrary reads what a survey asks of a stage, nil where none is named.
func quiescentLibrary(c *cli.Context, o *quiescent.Options) (*quiescent.Library, error) {
	name := c.String("survey")
	if name == "" {
		if c.IsSet("share") {
			return nil, usagef(c, "--share goes with --survey")
		}
		return nil, nil
	}
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	r, err := survey.Read(file, name)
	if err != nil {
		return nil, err
	}
	l, err := quiescent.Surveyed(r, name, o.Spec, o.Heard, o.Limits.Detection, c.Float64("share")/100)
	return l, wrapUsage(c, err)
}

// quiescentLimits reads the limits for a stage.
func quiescentLimits(c *cli.Context, spec stage.Spec) (quiescent.Limits, error) {
	l := quiescent.DefaultLimits(spec)
	l.Detection, l.Feedback = c.Float64("limit"), c.Float64("loop-gain")
	if c.IsSet("idle") {
		l.Idle = new(0.0)
	}
	for _, flag := range []struct {
		name string
		unit quantity.Unit
		into *float64
	}{
		{"coldest", quantity.Kelvin, &l.Coldest},
		{"hottest", quantity.Kelvin, &l.Hottest},
		{"junction", quantity.Kelvin, &l.Junction},
		{"idle", quantity.Watt, l.Idle},
	} {
		if !c.IsSet(flag.name) {
			continue
		}
		v, err := quantity.Parse(c.String(flag.name), flag.unit)
		if err != nil {
			return l, usagef(c, "--%s: %w", flag.name, err)
		}
		*flag.into = v
	}
	return l, nil
}

// quiescentStages reads the stages that are named as arguments.
func quiescentStages(c *cli.Context, o quiescent.Options) ([]quiescent.Options, error) {
	names := c.Args().Slice()
	if len(names) == 0 {
		names = []string{defaultStage}
	}
	var all []quiescent.Options
	for _, name := range names {
		spec, err := loadStage(c, name)
		if err != nil {
			return nil, err
		}
		if text := c.String("sink"); text != "" {
			if spec.Thermal.SinkToAir, err = quantity.Parse(text, quantity.PerWatt); err != nil {
				return nil, usagef(c, "--sink: %w", err)
			}
		}
		o.Spec = spec
		if o.Limits, err = quiescentLimits(c, spec); err != nil {
			return nil, err
		}
		if err := o.Check(); err != nil {
			return nil, wrapUsage(c, err)
		}
		if o.Library, err = quiescentLibrary(c, &o); err != nil {
			return nil, err
		}
		all = append(all, o)
	}
	return all, nil
}
