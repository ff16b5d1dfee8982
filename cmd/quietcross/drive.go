package main

import (
	"github.com/urfave/cli/v2"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/stage/quantity"
)

func levelFlag() cli.Flag {
	return &cli.StringFlag{Name: "level", Usage: "`LIST` of levels re the drive, dB (default: 0,-30)"}
}

func driveFlag() cli.Flag {
	return &cli.StringFlag{Name: "drive", Usage: "stage input at digital full scale, `VOLTS` peak (default: 1 dB under clipping)"}
}

func matchFlag() cli.Flag {
	return &cli.StringFlag{Name: "match", Value: string(render.MatchLoudness), Usage: "match levels by `HOW`: loudness, gain or off"}
}

func solverFlag() cli.Flag {
	return &cli.StringFlag{Name: "solver", Value: string(render.SolverAuto), Usage: "solve the stage `HOW`: auto (by the circuit), static or dynamic"}
}

func setSolver(c *cli.Context, o *render.Options) (err error) {
	o.Solver, err = render.ParseSolver(c.String("solver"))
	return wrapUsage(c, err)
}

func setLevels(c *cli.Context, o *render.Options) error {
	if !c.IsSet("level") {
		return nil
	}
	values, err := parseList(c.String("level"), parseDecibels, false)
	if err != nil {
		return usagef(c, "--level: %w", err)
	}
	for _, value := range values {
		if value < lowestLevel || value > highestLevel {
			return usagef(c, "--level: found %g dB, legal is %d to %d dB", value, lowestLevel, highestLevel)
		}
		o.Levels = append(o.Levels, level.DB(value))
	}
	return nil
}

// Legal levels re the drive, dB.
const (
	lowestLevel  = -120
	highestLevel = 20
)

func setDrive(c *cli.Context, o *render.Options) error {
	if !c.IsSet("drive") {
		return nil
	}
	drive, err := parseUnit(quantity.Volt)(c.String("drive"))
	if err != nil {
		return usagef(c, "--drive: %w", err)
	}
	if drive < 1e-3 || drive > 1e3 {
		return usagef(c, "--drive: found %g V, legal is 1 mV to 1 kV", drive)
	}
	o.Drive = &drive
	return nil
}

func setMatch(c *cli.Context, o *render.Options) (err error) {
	o.Match, err = render.ParseMatch(c.String("match"))
	return wrapUsage(c, err)
}
