package main

import (
	"fmt"
	"runtime"

	"github.com/urfave/cli/v2"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage/quantity"
)

func levelFlag() cli.Flag {
	return &cli.StringFlag{Name: "level", Usage: "`LIST` of levels re the drive, dB (default: 0,-30)"}
}

func driveFlag() cli.Flag {
	return &cli.StringFlag{Name: "drive", Usage: "stage input at digital full scale, `VOLTS` peak (default: 1 dB under clipping)"}
}

// parsePlayback reads the playback level.
func parsePlayback(c *cli.Context) (level.DB, error) {
	spl := level.DB(c.Float64("playback"))
	if err := hearing.CheckSPL(spl); err != nil {
		return 0, usagef(c, "--playback: %w", err)
	}
	return spl, nil
}

// workersFlag bounds how much is worked on at once.
func workersFlag(what string) cli.Flag {
	return &cli.IntFlag{Name: "workers", Value: runtime.GOMAXPROCS(0), DefaultText: "one a processor", Usage: "work on at most `N` " + what + " at once"}
}

// parseWorkers reads how much is worked on at once.
func parseWorkers(c *cli.Context) (int, error) {
	if n := c.Int("workers"); n >= 1 {
		return n, nil
	}
	return 0, usagef(c, "--workers: found %d, legal is 1 or more", c.Int("workers"))
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
		if err := checkLevel(value); err != nil {
			return usagef(c, "--level: %w", err)
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

// checkLevel refuses a level, dB re the drive, that is not legal.
func checkLevel(level float64) error {
	if !(level >= lowestLevel && level <= highestLevel) {
		return fmt.Errorf("found %g dB, legal is %d to %d dB", level, lowestLevel, highestLevel)
	}
	return nil
}

func setDrive(c *cli.Context, o *render.Options) error {
	if !c.IsSet("drive") {
		return nil
	}
	drive, err := parseUnit(quantity.Volt)(c.String("drive"))
	if err != nil {
		return usagef(c, "--drive: %w", err)
	}
	if err := checkDrive(drive); err != nil {
		return usagef(c, "--drive: %w", err)
	}
	o.Drive = &drive
	return nil
}

// checkDrive refuses a drive, V, that is not legal.
func checkDrive(drive float64) error {
	if !(drive >= 1e-3 && drive <= 1e3) {
		return fmt.Errorf("found %g V, legal is 1 mV to 1 kV", drive)
	}
	return nil
}

func setMatch(c *cli.Context, o *render.Options) (err error) {
	o.Match, err = render.ParseMatch(c.String("match"))
	return wrapUsage(c, err)
}
