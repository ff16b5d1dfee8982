package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/lesson"
)

const lessonDescription = `Writes one page, without need of a network, that leads a class from a fault that
it hears in quiet music to its cause, lets it turn the bias until the fault is
gone, and shows what each cure costs: class A and B, push-pull, the dead zone,
class AB, ways to hold a bias, starvation, over-bias, runaway, feedback, and
what remains. The stages play in the page; all it says of them is computed.

   quietcross lesson
   quietcross lesson --stage my-amp.toml --out lesson.html
   quietcross lesson --file my-song.flac
   quietcross lesson --handout handout.html --key key.html --seed 7

The handout is for students and has no answers, the key has them; the seed
draws other numbers for their questions. A stage must be a push-pull one whose
fault is heard without bias and gone with it; any other is refused with why.`

func lessonCommand() *cli.Command {
	return &cli.Command{
		Name:         "lesson",
		Usage:        "write a page that teaches bias by ear and eye",
		Description:  lessonDescription,
		OnUsageError: onUsageError,
		Flags: append([]cli.Flag{
			stageFlag(),
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: "quietcross-lesson.html", Usage: "write the page to `FILE.html`"},
			&cli.StringFlag{Name: "handout", Usage: "write a handout for students to `FILE.html`"},
			&cli.StringFlag{Name: "key", Usage: "write the key to it, for the teacher, to `FILE.html`"},
			&cli.StringFlag{Name: "file", Usage: "put a recording of your own, WAV or FLAC, into the page: `FILE`"},
			&cli.BoolFlag{Name: "force", Usage: "replace files that are there"},
			&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of generated music and of the numbers in questions"},
		}, listeningFlags()...),
		Action: writeLesson,
	}
}

// lessonFile is a file that the command writes.
type lessonFile struct {
	path  string
	write func(io.Writer) error
}

func writeLesson(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "lesson takes no arguments, found %q; name a stage with --stage", c.Args().First())
	}
	for _, flag := range []string{"out", "handout", "key"} {
		path := c.String(flag)
		if path == "" {
			continue
		}
		if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) && !c.Bool("force") {
			return usagef(c, "%s: exists already (--force replaces it)", path)
		}
	}
	l, err := buildLesson(c)
	if err != nil {
		return err
	}
	for _, f := range []lessonFile{{c.String("out"), l.Write}, {c.String("handout"), l.WriteHandout}, {c.String("key"), l.WriteKey}} {
		if f.path == "" {
			continue
		}
		if err := corpus.WriteFile(f.path, f.write); err != nil {
			return err
		}
		if _, err := fmt.Fprintf(c.App.Writer, "Open %s\n", f.path); err != nil {
			return err
		}
	}
	return nil
}

// buildLesson reads what the command is given and works the lesson out.
func buildLesson(c *cli.Context) (*lesson.Lesson, error) {
	spec, err := loadStage(c, c.String("stage"))
	if err != nil {
		return nil, err
	}
	o := lesson.DefaultOptions(spec, c.String("stage"))
	if o.Heard, err = parseListening(c); err != nil {
		return nil, err
	}
	if path := c.String("file"); path != "" {
		data, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		o.Own = &lesson.Own{Name: filepath.Base(path), Data: data}
	}
	o.Seed = c.Uint64("seed")
	line := newProgressLine(c, "preparing")
	o.Progress = line.report
	l, err := lesson.Build(c.Context, o)
	line.done()
	return l, err
}
