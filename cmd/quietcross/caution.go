package main

import (
	"github.com/urfave/cli/v2"

	"quietcross/reports/view/caution"
)

// cautions are what each command says, by its name within the program: in its help,
// and on the terminal when it has done its work, or before where that goes on until
// it is stopped.
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
	"survey":         append(caution.Listening(), caution.Bench()...),
	"survey merge":   append(caution.Listening(), caution.Bench()...),
	"lesson":         append(caution.Listening(), caution.Bench()...),
	"live":           append(caution.Listening(), caution.Bench()...),
	"panel open":     caution.Listening(),
}

// servedUntilStopped is the command that works until it is stopped.
const servedUntilStopped = "panel open"

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
		say := func(c *cli.Context) error { return caution.Write(c.App.ErrWriter, texts) }
		if within+c.Name == servedUntilStopped {
			c.Before = say
			continue
		}
		c.Action = func(c *cli.Context) error {
			if err := act(c); err != nil || c.Bool("json") {
				return err
			}
			return say(c)
		}
	}
}
