package main

import (
	"io"
	"runtime/debug"

	"github.com/urfave/cli/v2"
)

// version is the program's own; a build from a tagged module overrides it.
const version = "0.1.0"

// programVersion returns the version that goes into manifests and reports.
func programVersion() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return version
}

const description = `quietcross passes WAV files through a physical model of a biased push-pull
output stage at chosen bias levels. It writes the processed audio, what the
stage added (the residual), and a report that shows and measures it, so that
the audibility of crossover distortion can be judged by ear and by number.

Start here:

   quietcross material list
   quietcross render --material quiet-chord --out demo

and open demo/report.html, with the volume low.

Exit codes: 0 done, 1 failed, 2 wrong usage.`

// terminalKey is the metadata key that tells whether stderr is a terminal.
const terminalKey = "terminal"

func newApp(stdout, stderr io.Writer, terminal bool) *cli.App {
	app := &cli.App{
		Name:                 "quietcross",
		Usage:                "hear and measure what the bias of an output stage does to music",
		Description:          description,
		Version:              programVersion(),
		Writer:               stdout,
		ErrWriter:            stderr,
		Metadata:             map[string]any{terminalKey: terminal},
		EnableBashCompletion: true,
		HideHelpCommand:      true,
		OnUsageError:         onUsageError,
		Action:               noCommand,
		ExitErrHandler:       func(*cli.Context, error) {}, // run decides
		Commands: []*cli.Command{
			renderCommand(),
			stageCommand(),
			materialCommand(),
			measureCommand(),
			sweepCommand(),
			fitCommand(),
			audibilityCommand(),
			quiescentCommand(),
			surveyCommand(),
			lessonCommand(),
			liveCommand(),
			panelCommand(),
			completionCommand(),
		},
	}
	addCautions(app.Commands, "")
	return app
}
