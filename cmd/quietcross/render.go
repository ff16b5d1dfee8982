package main

import (
	"context"
	"fmt"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/reports/report"
)

const renderDescription = `Passes WAV files or built-in material through a stage at several biases and
writes a set: a folder with the audio, the residuals, report.html and the
numbers behind it.

   quietcross render --material quiet-chord --out demo
   quietcross render --quiescent 0,1mA..200mA/6 --level 0,-20,-40 song.wav
   quietcross render --stage my-amp.toml --as-built --match gain song.wav

LISTs are values and ranges: 0,1mA,5mA or 1mA..200mA/6 (six currents by equal
ratios) or -60..0/4 (four levels by equal steps).

Residuals carry make-up gain and can be harsh.`

func renderCommand() *cli.Command {
	return &cli.Command{
		Name:         "render",
		Usage:        "render WAV files through a stage at several biases, and report",
		ArgsUsage:    "FILE.wav...",
		Description:  renderDescription,
		OnUsageError: onUsageError,
		Flags: append(append(append(biasFlags(), sourceFlags()...), listeningFlags()...),
			stageFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-set", Usage: "write the set to `FOLDER`"},
			&cli.BoolFlag{Name: "force", Usage: "replace the set in the output folder, if there is one; anything else in it is refused, not lost"},
			levelFlag(), driveFlag(), matchFlag(),
			&cli.StringFlag{Name: "format", Usage: "sample `FORMAT` of the files: pcm16, pcm24, pcm32 or float32 (default: the source's own)"},
			solverFlag(),
			&cli.BoolFlag{Name: "drift", Usage: "let the bias drift with the programme's heat, from the stage warmed up at rest (dynamic solver)"},
			&cli.IntFlag{
				Name: "oversample", Usage: "oversampling `RATIO`: 1, 2, 4, 8, 16 or 32",
				DefaultText: fmt.Sprintf("%d static, %d dynamic", render.StaticOversample, render.DynamicOversample),
			},
			workersFlag("blocks"),
		),
		Action: func(c *cli.Context) error {
			job, err := parseRender(c)
			if err != nil {
				return err
			}
			return job.run(c)
		},
	}
}

// A renderJob is a checked command line of render.
type renderJob struct {
	sources []render.Source
	options render.Options
	out     string
	heard   hearing.Conditions
}

// parseRender reads flags and arguments and checks all that can be checked
// before work begins.
func parseRender(c *cli.Context) (*renderJob, error) {
	job := &renderJob{out: c.String("out")}
	var err error
	if job.sources, err = parseSources(c); err != nil {
		return nil, err
	}
	if job.heard, err = parseListening(c); err != nil {
		return nil, err
	}
	job.options, err = parseOptions(c)
	return job, err
}

func parseOptions(c *cli.Context) (render.Options, error) {
	var o render.Options
	spec, err := loadStage(c, c.String("stage"))
	if err != nil {
		return o, err
	}
	o.Spec = spec
	o.Oversample = c.Int("oversample")
	o.Drift = c.Bool("drift")
	o.Seed = c.Uint64("seed")
	o.Version = programVersion()
	if o.Workers, err = parseWorkers(c); err != nil {
		return o, err
	}
	if c.IsSet("oversample") {
		if err := checkOversample(o.Oversample); err != nil {
			return o, usagef(c, "--oversample: %w", err)
		}
	}
	if o.Settings, err = parseSettings(c); err != nil {
		return o, err
	}
	for _, set := range []func(*cli.Context, *render.Options) error{setLevels, setDrive, setMatch, setSolver, setFormat} {
		if err := set(c, &o); err != nil {
			return o, err
		}
	}
	return o, nil
}

func setFormat(c *cli.Context, o *render.Options) error {
	if !c.IsSet("format") {
		return nil
	}
	format, err := render.ParseFormat(c.String("format"))
	if err != nil {
		return wrapUsage(c, err)
	}
	o.Format = &format
	return nil
}

// run renders, reports and says where the result is.
func (job *renderJob) run(c *cli.Context) error {
	if err := checkFiles(job.sources); err != nil {
		return err
	}
	if err := checkInputs(c, job.sources, c.String("stage")); err != nil {
		return err
	}
	var manifest *corpus.Manifest
	err := outputFolder(c, corpus.ManifestFile).Create(func(dir string) (err error) {
		if manifest, err = job.render(c, dir); err != nil {
			return err
		}
		return job.report(c.Context, dir)
	})
	if err != nil {
		return folderError(c, err)
	}
	printWarnings(c, manifest)
	fmt.Fprintf(c.App.Writer, "%s: %d renderings of %d items. Open %s\n",
		job.out, len(manifest.Items)*len(manifest.Rungs), len(manifest.Items), filepath.Join(job.out, report.File))
	return nil
}

func (job *renderJob) render(c *cli.Context, dir string) (*corpus.Manifest, error) {
	line := newProgressLine(c, "rendering")
	defer line.done()
	options := job.options
	options.Progress = line.report
	return render.Run(c.Context, dir, job.sources, options)
}

// report measures the set in dir and writes its report files.
func (job *renderJob) report(ctx context.Context, dir string) error {
	result, err := report.BuildContext(ctx, dir, report.Options{Heard: job.heard})
	if err != nil {
		return err
	}
	if err := result.Write(dir); err != nil {
		return err
	}
	return report.WritePage(dir, result)
}

// printWarnings shows on stderr what the manifest warns of.
func printWarnings(c *cli.Context, m *corpus.Manifest) {
	for _, warning := range m.AllWarnings() {
		fmt.Fprintf(c.App.ErrWriter, "warning: %s\n", warning)
	}
}

// checkOversample refuses an oversampling ratio that is not legal.
func checkOversample(ratio int) error {
	if ratio < 1 || ratio > 32 || ratio&(ratio-1) != 0 {
		return fmt.Errorf("found %d, legal are 1, 2, 4, 8, 16 and 32", ratio)
	}
	return nil
}
