package main

import (
	"os"

	"github.com/urfave/cli/v2"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
)

// sourceFlags name built-in material; files are arguments.
func sourceFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "material", Aliases: []string{"m"}, Usage: "use built-in material `NAME` (see 'material list'); may be repeated"},
		&cli.IntFlag{Name: "rate", Value: 48000, Usage: "sampling rate of built-in material, `HERTZ`"},
		&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of dither and generated material"},
	}
}

// parseSources reads the files named as arguments and the material flags.
func parseSources(c *cli.Context) ([]render.Source, error) {
	var sources []render.Source
	for _, name := range c.StringSlice("material") {
		material, err := signal.Lookup(name)
		if err != nil {
			return nil, wrapUsage(c, err)
		}
		sources = append(sources, render.Material{Material: material, Rate: c.Int("rate"), Seed: c.Uint64("seed")})
	}
	for _, path := range c.Args().Slice() {
		if err := checkArgument(c, path); err != nil {
			return nil, err
		}
	}
	for _, file := range render.Files(c.Args().Slice()) {
		sources = append(sources, file)
	}
	if len(sources) == 0 {
		return nil, usagef(c, "nothing to work on: name WAV or FLAC files, or built-in material with --material")
	}
	return sources, nil
}

// checkFiles finds missing files before any work is done.
func checkFiles(sources []render.Source) error {
	for _, source := range sources {
		if file, ok := source.(render.File); ok {
			if _, err := os.Stat(file.Path); err != nil {
				return err
			}
		}
	}
	return nil
}
