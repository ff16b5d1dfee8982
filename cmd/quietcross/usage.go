package main

import (
	"errors"
	"fmt"
	"os"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/corpus/render"
)

// A usageError is a command line that cannot be carried out as written.
type usageError struct {
	err     error
	command string // with which help is asked for, "quietcross render"
}

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

// usagef returns a usage error of the running command.
func usagef(c *cli.Context, format string, args ...any) error {
	return wrapUsage(c, fmt.Errorf(format, args...))
}

// wrapUsage makes a usage error of err; nil stays nil.
func wrapUsage(c *cli.Context, err error) error {
	if err == nil {
		return nil
	}
	name := c.App.Name
	if c.Command != nil && c.Command.HelpName != "" {
		name = c.Command.HelpName
	}
	return &usageError{err: err, command: name}
}

// onUsageError is what urfave/cli calls on a flag that cannot be parsed.
func onUsageError(c *cli.Context, err error, _ bool) error { return wrapUsage(c, err) }

// noCommand refuses a first word that is no command.
func noCommand(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "no command %q", c.Args().First())
	}
	return cli.ShowAppHelp(c)
}

// noSubcommand refuses a second word that is no subcommand.
func noSubcommand(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "no subcommand %q", c.Args().First())
	}
	return cli.ShowSubcommandHelp(c)
}

// outputFolder is the place of a result that --out and --force describe, known by
// mark. What was cleared away there is told on stderr.
func outputFolder(c *cli.Context, mark string) corpus.Folder {
	return corpus.Folder{
		Path: c.String("out"), Mark: mark, Replace: c.Bool("force"),
		Note: func(sentence string) { fmt.Fprintf(c.App.ErrWriter, "note: %s\n", sentence) },
	}
}

// checkInputs refuses inputs that lie in the output folder, which --force replaces.
func checkInputs(c *cli.Context, sources []render.Source, stage string) error {
	out := c.String("out")
	paths := []string{stage}
	for _, source := range sources {
		if file, ok := source.(render.File); ok {
			paths = append(paths, file.Path)
		}
	}
	for _, path := range paths {
		if _, err := os.Stat(path); err == nil && corpus.Inside(out, path) {
			return usagef(c, "%s lies in the output folder %s: move it out, or choose another folder with --out", path, out)
		}
	}
	return nil
}

// folderError makes a usage error of the refusal to write over a result.
func folderError(c *cli.Context, err error) error {
	if errors.Is(err, corpus.ErrExists) {
		return usagef(c, "%w (--force replaces a result of the same kind)", err)
	}
	return err
}
