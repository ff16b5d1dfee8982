package main

import (
	"github.com/urfave/cli/v2"

	"quietcross/corpus/bias"
	"quietcross/stage"
	"quietcross/stage/quantity"
)

// biasFlags are the three ways to bias a stage.
func biasFlags() []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "as-built", Usage: "the bias that the stage file's own parts give"},
		&cli.StringFlag{Name: "bias", Usage: "`LIST` of bias voltages from an ideal source, V"},
		&cli.StringFlag{Name: "quiescent", Usage: "`LIST` of quiescent currents a device, A; the bias is solved for (0: unbiased)"},
	}
}

// parseSettings reads the bias flags, in the order as built, bias, quiescent.
// It returns nil when none is given.
func parseSettings(c *cli.Context) ([]stage.Setting, error) {
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
			settings = append(settings, flag.setting(value))
		}
	}
	return settings, nil
}
