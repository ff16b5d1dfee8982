package main

import (
	_ "embed"
	"io"

	"github.com/urfave/cli/v2"

	"quietcross/dsp/hearing"
	"quietcross/reports/panel/server"
)

const panelDescription = `Finds by ear, blind, the smallest crossover distortion that listeners hear on a
rendered set. Each answer is on the disk before the page says so; stop and start
the server at will.

   quietcross panel open demo
   quietcross panel open --lan --method triangle --quiescent 5mA demo
   quietcross panel open --plan study.toml demo
   quietcross panel result --page result.html --json result.json demo

   quietcross panel result --listener panel.toml demo

A plan fixes a study beforehand; 'quietcross panel plan' prints one to edit. Its
hash stands with every result.

The level set-up page comes first.`

func panelCommand() *cli.Command {
	database := &cli.StringFlag{Name: "database", Usage: "answers in `FILE` (default: SET" + answersSuffix + ", beside the set)"}
	return &cli.Command{
		Name:         "panel",
		Usage:        "blind listening test on a rendered set",
		Description:  panelDescription,
		OnUsageError: onUsageError,
		Action:       noSubcommand,
		Subcommands: []*cli.Command{
			{
				Name:         "plan",
				Usage:        "print a plan to edit",
				OnUsageError: onUsageError,
				Action:       printPlan,
			},
			{
				Name:         "open",
				Usage:        "serve the listening test on a local web page",
				ArgsUsage:    "SET",
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					database,
					&cli.StringFlag{Name: "plan", Usage: "run the study of `FILE.toml`"},
					&cli.BoolFlag{Name: "lan", Usage: "serve other machines of the local network too, by a join code"},
					&cli.IntFlag{Name: "port", Value: 8340, Usage: "listen on `PORT`; 0 takes any free one"},
					&cli.StringFlag{Name: "certificate", Usage: "serve by TLS with the certificate chain of `FILE.pem`"},
					&cli.StringFlag{Name: "key", Usage: "private key of the certificate, `FILE.pem`"},
					&cli.StringFlag{Name: "behind", Usage: "a reverse proxy for `HOST` stands in front, with TLS of its own"},
					&cli.BoolFlag{Name: "names", Usage: "ask listeners for a name; they have codes otherwise"},
					&cli.StringFlag{Name: "method", Value: string(server.Adaptive), Usage: "`METHOD`: adaptive, staircase, triangle, graded (ITU-R BS.1116) or multi-stimulus"},
					&cli.IntFlag{Name: "trials", DefaultText: "the method's own", Usage: "number of test `TRIALS`, or of rounds when graded"},
					&cli.StringFlag{Name: "quiescent", Usage: "triangle: test this quiescent `CURRENT`"},
					&cli.Float64Flag{Name: "alpha", DefaultText: "the method's own", Usage: "size of the significance tests"},
				},
				Action: openPanel,
			},
			{
				Name:         "result",
				Usage:        "evaluate the answers",
				ArgsUsage:    "SET",
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					database,
					&cli.StringFlag{Name: "page", Usage: "write the printable result to `FILE.html` (default: beside the answers)"},
					&cli.StringFlag{Name: "csv", Usage: "write every trial to `FILE.csv`"},
					&cli.StringFlag{Name: "json", Usage: "write the result to `FILE.json`"},
					&cli.BoolFlag{Name: "names", Usage: "names in the tables too, where they were asked for"},
					&cli.BoolFlag{Name: "anonymous", Usage: "numbers for codes, and no hours, rooms and devices, in the tables"},
					&cli.BoolFlag{Name: "no-prediction", Usage: "leave out what the detection model predicts"},
					playbackFlag(),
					&cli.Float64Flag{Name: "room", Value: hearing.DefaultRoomNR, DefaultText: "the plan's, or 15", Usage: "for predictions: noise rating of the room, `NR` 0 (silence) to 60"},
					&cli.StringFlag{Name: "listener", Usage: "fit the detection model's efficiency to the answers and write it to `FILE.toml`, for --listener of other commands"},
					&cli.StringFlag{Name: "of", Usage: "--listener: fit the listener called `CODE` (default: the whole panel)"},
					&cli.BoolFlag{Name: "force", Usage: "overwrite files of the names given"},
				},
				Action: panelResult,
			},
			{
				Name:         "forget",
				Usage:        "delete a listener and all that the listener answered",
				ArgsUsage:    "SET CODE",
				OnUsageError: onUsageError,
				Flags:        []cli.Flag{database},
				Action:       forgetListener,
			},
		},
	}
}

//go:embed plan.toml
var planExample string

// printPlan prints a commented plan.
func printPlan(c *cli.Context) error {
	_, err := io.WriteString(c.App.Writer, planExample)
	return err
}
