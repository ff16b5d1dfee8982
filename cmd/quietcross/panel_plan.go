package main

import (
	_ "embed"
	"io"

	"github.com/urfave/cli/v2"
)

//go:embed plan.toml
var planExample string

// printPlan prints a commented plan.
func printPlan(c *cli.Context) error {
	_, err := io.WriteString(c.App.Writer, planExample)
	return err
}
