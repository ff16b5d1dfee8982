package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"quietcross/reports/fit"

	"quietcross/stage/quantity"
)

const fitDescription = `Finds the bias and the part values of a stage file that best explain the distortion
in a recording of a real stage's output across a known load: a tone (or two, 60 Hz
and 7 kHz) stepping through six or more levels, such as 'quietcross material write
FOLDER ladder' makes. Says how well each
value is known and what the recording cannot tell.

   quietcross fit --stage my-amp.toml --full-scale 25V recorded.wav
   quietcross fit --stage my-amp.toml --full-scale 25V --free emitter.resistance,load.resistance --out fitted.toml recorded.wav`

func fitCommand() *cli.Command {
	return &cli.Command{
		Name:         "fit",
		Usage:        "find the bias and parts that explain a recorded stage",
		ArgsUsage:    "FILE.wav|FILE.flac",
		Description:  fitDescription,
		OnUsageError: onUsageError,
		Flags: []cli.Flag{
			stageFlag(),
			&cli.StringFlag{Name: "full-scale", Usage: "digital full scale of the recording is `VOLTS` peak at the stage's output"},
			&cli.StringFlag{Name: "free", Usage: "`KEYS` of the stage file to fit beside the bias (default: " + strings.Join(fit.DefaultFree, ",") + ")"},
			&cli.IntFlag{Name: "channel", Value: 1, Usage: "use channel `N`, from 1"},
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Usage: "write the fitted stage to `FILE.toml`"},
			jsonFlag(),
			&cli.StringFlag{Name: "page", Usage: "write a page to `FILE.html` as well"},
		},
		Action: fitRecording,
	}
}

func fitRecording(c *cli.Context) error {
	if c.NArg() != 1 {
		return usagef(c, "fit takes one recording, found %d arguments", c.NArg())
	}
	path := c.Args().First()
	if !c.IsSet("full-scale") {
		return usagef(c, "--full-scale is missing: how many volts at the output does digital full scale stand for?")
	}
	volts, err := parseUnit(quantity.Volt)(c.String("full-scale"))
	if err = cmp.Or(err, checkFullScale(volts)); err != nil {
		return usagef(c, "--full-scale: %w", err)
	}
	o := fit.Options{}
	if o.Spec, err = loadStage(c, c.String("stage")); err != nil {
		return err
	}
	if c.IsSet("free") {
		o.Free = strings.Split(c.String("free"), ",")
	}
	observations, err := observe(c, path, volts)
	if err != nil {
		return err
	}
	result := &fit.Report{
		Schema: fit.SchemaVersion, Program: "quietcross", Version: programVersion(),
		File: path, Stage: o.Spec.Name, Title: o.Spec.Title, FullScale: volts,
	}
	if result.Fit, err = fit.Run(c.Context, observations, o); err != nil {
		return err
	}
	return showFitted(c, result)
}

// observe reads one channel of a recording and measures its levels.
func observe(c *cli.Context, path string, volts float64) ([]fit.Observation, error) {
	line := newProgressLine(c, "reading")
	recording, err := readWhole(c.Context, path, line.report)
	line.done()
	if err != nil {
		return nil, err
	}
	for _, warning := range recording.warnings {
		fmt.Fprintf(c.App.ErrWriter, "warning: %s\n", warning)
	}
	channel := c.Int("channel")
	if channel < 1 || channel > len(recording.audio) {
		return nil, usagef(c, "--channel: found %d, %s has %d", channel, path, len(recording.audio))
	}
	observations, err := fit.Observe(recording.audio[channel-1], float64(recording.format.Rate), volts)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return observations, nil
}

func showFitted(c *cli.Context, r *fit.Report) error {
	if err := writeBeside(c, "out", r.Fit.Spec.Write); err != nil {
		return err
	}
	if err := writeBeside(c, "page", r.WritePage); err != nil {
		return err
	}
	if c.Bool("json") {
		return r.WriteJSON(c.App.Writer)
	}
	if err := r.WriteTable(c.App.Writer); err != nil {
		return err
	}
	if out := c.String("out"); out != "" {
		_, err := io.WriteString(c.App.Writer, fmt.Sprintf("\nWrote %s; its bias is %.4gV: render with --stage %s --bias %.4gV\n", out, r.Fit.Bias, out, r.Fit.Bias))
		return err
	}
	return nil
}

// checkFullScale refuses volts of digital full scale that are not legal.
func checkFullScale(volts float64) error {
	if !(volts >= 1e-3 && volts <= 1e4) {
		return fmt.Errorf("found %g V, legal is 1 mV to 10 kV", volts)
	}
	return nil
}
