package main

import (
	"github.com/urfave/cli/v2"

	"quietcross/corpus/bias"
	"quietcross/stage"
	"quietcross/stage/quantity"
)

// When a quiescent current is trimmed.
const (
	trimCold = "cold"
	trimWarm = "warm"
)

// biasFlags are the three ways to bias a stage.
func biasFlags() []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "as-built", Usage: "the bias that the stage file's own parts give"},
		&cli.StringFlag{Name: "bias", Usage: "`LIST` of bias voltages from an ideal source that holds, V"},
		&cli.StringFlag{Name: "quiescent", Usage: "`LIST` of quiescent currents a device, A, by the stage's own bias parts, trimmed (0: unbiased)"},
		&cli.StringFlag{Name: "trim", Value: trimCold, Usage: "quiescent currents are those of the stage `WHEN` it is cold, as just switched on, or warm, as settled at rest"},
	}
}

// parseSettings reads the bias flags, in the order as built, bias, quiescent.
// It returns nil when none is given.
func parseSettings(c *cli.Context) ([]stage.Setting, error) {
	when := c.String("trim")
	if when != trimCold && when != trimWarm {
		return nil, usagef(c, "--trim: found %q, legal are %s and %s", when, trimCold, trimWarm)
	}
	var settings []stage.Setting
	if c.Bool("as-built") {
		settings = append(settings, stage.AsBuilt())
	}
	for _, flag := range []struct {
		name        string
		unit        quantity.Unit
		logarithmic bool
		setting     func(float64) stage.Setting
	}{
		{"bias", quantity.Volt, false, stage.Bias},
		{"quiescent", quantity.Ampere, true, bias.Current},
	} {
		if !c.IsSet(flag.name) {
			continue
		}
		values, err := parseList(c.String(flag.name), parseUnit(flag.unit), flag.logarithmic)
		if err != nil {
			return nil, usagef(c, "--%s: %w", flag.name, err)
		}
		for _, value := range values {
			setting := flag.setting(value)
			if when == trimWarm {
				setting = setting.Warm()
			}
			settings = append(settings, setting)
		}
	}
	return settings, nil
}
