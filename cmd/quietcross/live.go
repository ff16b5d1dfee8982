package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/live"
)

const liveDescription = `Writes one page, without need of a network, in which a stage plays: built-in
music, test tones or your own files pass through it while you move its bias, level,
load and temperature. The transfer curve, the waveforms, the spectrum, the devices'
currents and their heat follow the sound.

   quietcross live
   quietcross live --stage my-amp.toml --out live.html

It opens in any current browser, and starts silent.`

func liveCommand() *cli.Command {
	return &cli.Command{
		Name:         "live",
		Usage:        "write a page in which the bias is turned while sound plays",
		Description:  liveDescription,
		OnUsageError: onUsageError,
		Flags: []cli.Flag{
			stageFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-live.html", Usage: "write the page to `FILE.html`"},
			&cli.BoolFlag{Name: "force", Usage: "replace the file, if there is one"},
		},
		Action: writeLive,
	}
}

func writeLive(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "live takes no arguments, found %q; name a stage with --stage", c.Args().First())
	}
	path := c.String("out")
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) && !c.Bool("force") {
		return usagef(c, "%s: exists already (--force replaces it)", path)
	}
	spec, err := loadStage(c, c.String("stage"))
	if err != nil {
		return err
	}
	if err := corpus.WriteFile(path, func(w io.Writer) error { return live.Write(w, live.Options{Stage: spec}) }); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.App.Writer, "Open %s\n", path)
	return err
}
