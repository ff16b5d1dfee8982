package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/reports/lesson"
)

const lessonDescription = `Writes one page, with sound and without need of a network, that tells in six
steps why an output stage needs bias, and ends in a slider that moves the bias
while music plays. It opens in any current browser and prints as a handout.

   quietcross lesson
   quietcross lesson --stage my-amp.toml --out lesson.html

The slider is of the stage that is named; so are the last two steps if that is a
complementary pair with two diodes.`

func lessonCommand() *cli.Command {
	return &cli.Command{
		Name:         "lesson",
		Usage:        "write a page that teaches bias by ear and eye",
		Description:  lessonDescription,
		OnUsageError: onUsageError,
		Flags: []cli.Flag{
			stageFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-lesson.html", Usage: "write the page to `FILE.html`"},
			&cli.BoolFlag{Name: "force", Usage: "replace the file, if there is one"},
			&cli.Float64Flag{Name: "seconds", Value: 4, Usage: "length of each excerpt of music, 1 to 10 `SECONDS`"},
			&cli.StringFlag{Name: "solver", Value: string(render.SolverAuto), Usage: "solve circuits with memory `HOW`: auto (in time), static (midband, quick) or dynamic"},
			playbackFlag(),
			&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of generated material"},
			workersFlag("stages"),
		},
		Action: writeLesson,
	}
}

func writeLesson(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "lesson takes no arguments, found %q; name a stage with --stage", c.Args().First())
	}
	path := c.String("out")
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) && !c.Bool("force") {
		return usagef(c, "%s: exists already (--force replaces it)", path)
	}
	spec, err := loadStage(c, c.String("stage"))
	if err != nil {
		return err
	}
	solver, err := render.ParseSolver(c.String("solver"))
	if err != nil {
		return wrapUsage(c, err)
	}
	o := lesson.DefaultOptions(spec)
	if o.Playback, err = parsePlayback(c); err != nil {
		return err
	}
	if o.Workers, err = parseWorkers(c); err != nil {
		return err
	}
	line := newProgressLine(c, "preparing")
	o.Seconds, o.Solver = c.Float64("seconds"), solver
	o.Seed, o.Progress = c.Uint64("seed"), line.report
	l, err := lesson.Build(c.Context, o)
	line.done()
	if err != nil {
		return err
	}
	if err := corpus.WriteFile(path, l.Write); err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.App.Writer, "Open %s\n", path)
	return err
}
