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
	"quietcross/dsp/level"
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
				Flags:        []cli.Flag{jsonFlag()},
				Action:       listMaterial,
			},
			{
				Name:      "write",
				Usage:     "write built-in material and test signals as WAV files into a folder",
				ArgsUsage: "FOLDER [NAME...]",
				Description: `Writes all pieces and test signals, or those named, as FOLDER/NAME.wav. Existing
files are kept unless --force is given.

   quietcross material write music
   quietcross material write --rate 96000 --format float32 --level -20 signals aes17-997`,
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					&cli.IntFlag{Name: "rate", Value: 48000, Usage: "sampling rate, `HERTZ`"},
					&cli.StringFlag{Name: "format", Value: "pcm24", Usage: "sample `FORMAT`: pcm16, pcm24, pcm32 or float32"},
					&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "`SEED` of the random parts and of the dither"},
					&cli.StringFlag{Name: "level", Usage: "peak of each signal re full scale, `DB` (default: its own)"},
					&cli.BoolFlag{Name: "force", Usage: "write over existing files"},
				},
				Action: writeMaterial,
			},
		},
	}
}

// materialRow is a piece of material or a test signal in JSON.
type materialRow struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Kind     string   `json:"kind"`
	Shows    string   `json:"shows,omitempty"`
	Standard string   `json:"standard,omitempty"`
	Seconds  float64  `json:"seconds"`
	Channels int      `json:"channels"`
	Peak     level.DB `json:"peak_dbfs"`
}

func listMaterial(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "list takes no arguments, found %q", c.Args().First())
	}
	if c.Bool("json") {
		var rows []materialRow
		for _, m := range append(signal.List(), signal.Standards()...) {
			rows = append(rows, materialRow{m.Name, m.Title, m.Kind.String(), m.Shows, m.Source, m.Seconds, m.Channels, m.Peak})
		}
		return printJSON(c, rows)
	}
	w := tabwriter.NewWriter(c.App.Writer, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "MATERIAL\tLENGTH\tCHANNELS\tSHOWS")
	for _, m := range signal.List() {
		fmt.Fprintf(w, "%s\t%g s\t%d\t%s\n", m.Name, m.Seconds, m.Channels, m.Shows)
	}
	fmt.Fprintln(w, "\t\t\t\nTEST SIGNAL\tLENGTH\tCHANNELS\tSTANDARD")
	for _, m := range signal.Standards() {
		fmt.Fprintf(w, "%s\t%g s\t%d\t%s\n", m.Name, m.Seconds, m.Channels, m.Source)
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
	if materials, err = atLevel(c, materials); err != nil {
		return err
	}
	folder := c.Args().First()
	if err := os.MkdirAll(folder, 0o777); err != nil {
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
		audio, err := m.Generate(c.Int("rate"), c.Uint64("seed"))
		if err != nil && c.NArg() == 1 { // all were asked for: those that the rate carries are written
			fmt.Fprintf(c.App.ErrWriter, "left out: %v\n", err)
			continue
		}
		if err != nil {
			return err
		}
		if err := writeOne(path, audio, format, c.Int("rate"), c.Uint64("seed")); err != nil {
			return err
		}
		fmt.Fprintln(c.App.Writer, path)
	}
	return nil
}

// atLevel moves the materials to the level that is asked for.
func atLevel(c *cli.Context, materials []signal.Material) ([]signal.Material, error) {
	if !c.IsSet("level") {
		return materials, nil
	}
	peak, err := parseDecibels(c.String("level"))
	if err != nil {
		return nil, usagef(c, "--level: %w", err)
	}
	for i, m := range materials {
		if materials[i], err = m.At(level.DB(peak)); err != nil {
			return nil, usagef(c, "--level: %s: %w", m.Name, err)
		}
	}
	return materials, nil
}

// chosenMaterial returns the pieces and signals named, or all.
func chosenMaterial(names []string) ([]signal.Material, error) {
	if len(names) == 0 {
		return append(signal.List(), signal.Standards()...), nil
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

func writeOne(path string, audio [][]float64, format wave.Format, rate int, seed uint64) error {
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
