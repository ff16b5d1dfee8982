package main

import (
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/reports/sweep"

	"quietcross/stage"
	"quietcross/stage/quantity"
)

const sweepDescription = `Computes THD, intermodulation and incremental gain of a stage against level,
frequency and bias, from its law alone in double precision: no audio is rendered.

   quietcross sweep --stage pair-12w
   quietcross sweep --quiescent 1mA..500mA/12 --level -60..0/31 --page curves.html my-amp.toml`

func sweepCommand() *cli.Command {
	return &cli.Command{
		Name:         "sweep",
		Usage:        "compute distortion against level, frequency and bias",
		Description:  sweepDescription,
		OnUsageError: onUsageError,
		Flags: append(biasFlags(),
			stageFlag(),
			&cli.StringFlag{Name: "level", Usage: "`LIST` of levels re the drive, dB (default: -60..0/31)"},
			&cli.StringFlag{Name: "frequency", Usage: "`LIST` of frequencies, Hz (default: 20,1kHz,6kHz)"},
			driveFlag(),
			jsonFlag(),
			&cli.StringFlag{Name: "csv", Usage: "write every number to `FILE.csv` as well"},
			&cli.StringFlag{Name: "page", Usage: "write a page of curves to `FILE.html` as well"},
			&cli.IntFlag{Name: "workers", Value: 2, Usage: "work on at most `N` biases at once"},
		),
		Action: sweepStage,
	}
}

func sweepStage(c *cli.Context) error {
	o, err := sweepOptions(c)
	if err != nil {
		return err
	}
	grid, err := sweep.Run(c.Context, o)
	if err != nil {
		return err
	}
	st, err := stage.New(o.Spec)
	if err != nil {
		return err
	}
	result := &sweep.Result{
		Schema: sweep.SchemaVersion, Program: "quietcross", Version: programVersion(),
		Title: o.Spec.Title, Optimum: st.OptimumQuiescent(), Memory: st.HasMemory(), Grid: grid,
	}
	if err := writeBeside(c, "csv", result.WriteCSV); err != nil {
		return err
	}
	if err := writeBeside(c, "page", result.WritePage); err != nil {
		return err
	}
	if c.Bool("json") {
		return result.WriteJSON(c.App.Writer)
	}
	return result.WriteTable(c.App.Writer)
}

// writeBeside writes a file that a flag names, if it is set.
func writeBeside(c *cli.Context, flag string, write func(io.Writer) error) error {
	if path := c.String(flag); path != "" {
		return corpus.WriteFile(path, write)
	}
	return nil
}

func sweepOptions(c *cli.Context) (o sweep.Options, err error) {
	name := c.String("stage")
	switch {
	case c.NArg() > 1 || c.NArg() == 1 && c.IsSet("stage"):
		return o, usagef(c, "sweep takes one stage, found %d arguments", c.NArg())
	case c.NArg() == 1:
		name = c.Args().First()
	}
	spec, err := loadStage(c, name)
	if err != nil {
		return o, err
	}
	o = sweep.DefaultOptions(spec)
	if o.Settings, err = parseSettings(c); err != nil {
		return o, err
	}
	var shared render.Options
	for _, set := range []func(*cli.Context, *render.Options) error{setLevels, setDrive} {
		if err := set(c, &shared); err != nil {
			return o, err
		}
	}
	o.Drive, o.Workers = shared.Drive, c.Int("workers")
	if shared.Levels != nil {
		o.Levels = shared.Levels
	}
	if c.IsSet("frequency") {
		o.Frequencies, err = parseList(c.String("frequency"), parseUnit(quantity.Hertz), true)
		if err != nil {
			return o, usagef(c, "--frequency: %w", err)
		}
		for _, f := range o.Frequencies {
			if err := checkFrequency(f); err != nil {
				return o, usagef(c, "--frequency: %w", err)
			}
		}
	}
	return o, nil
}

// checkFrequency refuses a tone's frequency, Hz, that is not legal.
func checkFrequency(hertz float64) error {
	if !(hertz >= 1 && hertz <= 20000) {
		return fmt.Errorf("found %g Hz, legal is 1 Hz to 20 kHz", hertz)
	}
	return nil
}
