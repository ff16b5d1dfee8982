package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"

	"github.com/urfave/cli/v2"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/dsp/wave"
)

func materialCommand() *cli.Command {
	return &cli.Command{
		Name:         "material",
		Usage:        "built-in programme material",
		OnUsageError: onUsageError,
		Action:       noSubcommand,
		Subcommands: []*cli.Command{
			{
				Name:         "list",
				Usage:        "list the built-in material and what each piece is meant to show",
				OnUsageError: onUsageError,
				Action:       listMaterial,
			},
			{
				Name:      "write",
				Usage:     "write built-in material as WAV files into a folder",
				ArgsUsage: "FOLDER [NAME...]",
				Description: `Writes all pieces, or those named, as FOLDER/NAME.wav. Existing files are kept
unless --force is given.

   quietcross material write music
   quietcross material write --rate 96000 --format float32 music quiet-chord`,
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					&cli.IntFlag{Name: "rate", Value: 48000, Usage: "sampling rate, `HERTZ`"},
					&cli.StringFlag{Name: "format", Value: "pcm24", Usage: "sample `FORMAT`: pcm16, pcm24, pcm32 or float32"},
					&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of the random parts and of the dither"},
					&cli.BoolFlag{Name: "force", Usage: "write over existing files"},
				},
				Action: writeMaterial,
			},
		},
	}
}

func listMaterial(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "list takes no arguments, found %q", c.Args().First())
	}
	w := tabwriter.NewWriter(c.App.Writer, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NAME\tLENGTH\tCHANNELS\tSHOWS")
	for _, m := range signal.List() {
		fmt.Fprintf(w, "%s\t%g s\t%d\t%s\n", m.Name, m.Seconds, m.Channels, m.Shows)
	}
	return w.Flush()
}

func writeMaterial(c *cli.Context) error {
	if !c.Args().Present() {
		return usagef(c, "no folder: write material write FOLDER [NAME...]")
	}
	format, err := render.ParseFormat(c.String("format"))
	if err != nil {
		return wrapUsage(c, err)
	}
	materials, err := chosenMaterial(c.Args().Tail())
	if err != nil {
		return wrapUsage(c, err)
	}
	folder := c.Args().First()
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, m := range materials {
		path := filepath.Join(folder, m.Name+".wav")
		if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) && !c.Bool("force") {
			return usagef(c, "%s: exists already (--force writes over it)", path)
		}
		if err := c.Context.Err(); err != nil {
			return err
		}
		if err := writeOne(path, m, format, c.Int("rate"), c.Uint64("seed")); err != nil {
			return err
		}
		fmt.Fprintln(c.App.Writer, path)
	}
	return nil
}

// chosenMaterial returns the pieces named, or all.
func chosenMaterial(names []string) ([]signal.Material, error) {
	if len(names) == 0 {
		return signal.List(), nil
	}
	chosen := make([]signal.Material, len(names))
	for i, name := range names {
		m, err := signal.Lookup(name)
		if err != nil {
			return nil, err
		}
		chosen[i] = m
	}
	return chosen, nil
}

func writeOne(path string, m signal.Material, format wave.Format, rate int, seed uint64) error {
	audio, err := m.Generate(rate, seed)
	if err != nil {
		return fmt.Errorf("%s: %w", m.Name, err)
	}
	format.Rate, format.Channels = rate, len(audio)
	w, err := wave.Create(path, format, wave.Options{Seed: seed})
	if err != nil {
		return err
	}
	if err := w.Write(audio); err != nil {
		return errors.Join(err, w.Abort())
	}
	return w.Close()
}
