package main

import (
	"github.com/urfave/cli/v2"

	"quietcross/reports/view/caution"
)

// cautions are what each command says, by its name within the program: in its help,
// and on the terminal when it has done its work.
var cautions = map[string][]string{
	"render":         caution.Listening(),
	"stage show":     caution.Bench(),
	"stage inspect":  caution.Bench(),
	"material list":  caution.Listening(),
	"material write": caution.Listening(),
	"measure":        caution.Measuring(),
	"sweep":          caution.Bench(),
	"fit":            caution.Bench(),
	"audibility":     caution.Listening(),
	"quiescent":      caution.Bench(),
	"lesson":         append(caution.Listening(), caution.Bench()...),
	"panel open":     caution.Listening(),
}

// addCautions puts them to the commands; within is the name of what the commands are
// subcommands of, with a space after it.
func addCautions(commands []*cli.Command, within string) {
	for _, c := range commands {
		addCautions(c.Subcommands, within+c.Name+" ")
		texts, ok := cautions[within+c.Name]
		if !ok {
			continue
		}
		if c.Description != "" {
			c.Description += "\n\n"
		}
		c.Description += caution.Wrapped(texts)
		act := c.Action
		c.Action = func(c *cli.Context) error {
			if err := act(c); err != nil || c.Bool("json") {
				return err
			}
			return caution.Write(c.App.ErrWriter, texts)
		}
	}
}
