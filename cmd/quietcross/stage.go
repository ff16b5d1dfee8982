package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/inspect"
	"quietcross/stage"
)

// defaultStage is rendered and inspected when none is named.
const defaultStage = "pair-12w"

func stageFlag() cli.Flag {
	return &cli.StringFlag{
		Name: "stage", Aliases: []string{"s"}, Value: defaultStage,
		Usage: "built-in stage `NAME` or stage file (see 'stage list')",
	}
}

// loadStage returns a built-in stage, or reads a stage file when name has a
// path separator or the ending .toml.
func loadStage(c *cli.Context, name string) (stage.Spec, error) {
	if !strings.HasSuffix(strings.ToLower(name), ".toml") && !strings.ContainsAny(name, `/\`) {
		spec, err := stage.Lookup(name)
		return spec, wrapUsage(c, err)
	}
	file, err := os.Open(name)
	if err != nil {
		return stage.Spec{}, err
	}
	defer file.Close()
	return stage.Read(file, name)
}

func stageCommand() *cli.Command {
	return &cli.Command{
		Name:         "stage",
		Usage:        "built-in stages and stage files",
		OnUsageError: onUsageError,
		Action:       noSubcommand,
		Subcommands: []*cli.Command{
			{
				Name:         "list",
				Usage:        "list the built-in stages",
				OnUsageError: onUsageError,
				Flags:        []cli.Flag{jsonFlag()},
				Action:       listStages,
			},
			{
				Name:      "show",
				Usage:     "print a stage as a commented stage file",
				ArgsUsage: "NAME|FILE.toml",
				Description: `The output is a stage file that can be edited and given to --stage. Devices that
a file leaves out are typical ones; --different leaves out whatever reading puts
there by itself.

   quietcross stage show pair-12w > my-amp.toml
   quietcross stage show --different pair-12w`,
				OnUsageError: onUsageError,
				Flags:        []cli.Flag{&cli.BoolFlag{Name: "different", Usage: "print only what differs from the defaults"}},
				Action:       showStage,
			},
			{
				Name:      "inspect",
				Usage:     "solve a stage: operating point, crossover, gain, clipping",
				ArgsUsage: "NAME|FILE.toml",
				Description: `Shows the stage as built, unbiased and at the optimum bias, or at the biases
that are asked for.

   quietcross stage inspect pair-12w
   quietcross stage inspect --quiescent 1mA..200mA/6 --page my-amp.html my-amp.toml`,
				OnUsageError: onUsageError,
				Flags: append(biasFlags(),
					jsonFlag(),
					&cli.StringFlag{Name: "picture", Usage: "draw the incremental gain around the crossover into `FILE.svg`"},
					&cli.StringFlag{Name: "page", Usage: "write a page to `FILE.html` as well"},
				),
				Action: inspectStage,
			},
		},
	}
}

// stageRow is a line of the list of stages.
type stageRow struct {
	Name    string `json:"name"`
	Circuit string `json:"circuit"`
	Title   string `json:"title"`
}

func listStages(c *cli.Context) error {
	if c.Args().Present() {
		return usagef(c, "list takes no arguments, found %q", c.Args().First())
	}
	var rows []stageRow
	for _, s := range stage.Builtin() {
		rows = append(rows, stageRow{s.Name, s.Circuit, s.Title})
	}
	if c.Bool("json") {
		return printJSON(c, rows)
	}
	w := tabwriter.NewWriter(c.App.Writer, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NAME\tCIRCUIT\tTITLE")
	for _, r := range rows {
		fmt.Fprintf(w, "%s\t%s\t%s\n", r.Name, r.Circuit, r.Title)
	}
	return w.Flush()
}

// oneStage loads the stage that a subcommand's single argument names.
func oneStage(c *cli.Context) (stage.Spec, error) {
	if c.NArg() != 1 {
		return stage.Spec{}, usagef(c, "stage %s takes one stage, found %d arguments", c.Command.Name, c.NArg())
	}
	return loadStage(c, c.Args().First())
}

func showStage(c *cli.Context) error {
	spec, err := oneStage(c)
	if err != nil {
		return err
	}
	if c.Bool("different") {
		return spec.WriteDifferent(c.App.Writer)
	}
	return spec.Write(c.App.Writer)
}

func inspectStage(c *cli.Context) error {
	spec, err := oneStage(c)
	if err != nil {
		return err
	}
	settings, err := parseSettings(c)
	if err != nil {
		return err
	}
	if settings == nil {
		if settings, err = usualSettings(spec); err != nil {
			return err
		}
	}
	look, err := inspect.Look(spec, settings)
	if err != nil {
		return err
	}
	if picture := c.String("picture"); picture != "" {
		if err := corpus.WriteFile(picture, look.WriteSVG); err != nil {
			return err
		}
	}
	if page := c.String("page"); page != "" {
		if err := corpus.WriteFile(page, look.WritePage); err != nil {
			return err
		}
	}
	return printInspection(c.App.Writer, look, c.Bool("json"))
}

func printInspection(w io.Writer, look *inspect.Inspection, asJSON bool) error {
	if asJSON {
		return look.WriteJSON(w)
	}
	return look.WriteTable(w)
}

// usualSettings are the stage as built, unbiased, and at the optimum if its
// circuit has one.
func usualSettings(spec stage.Spec) ([]stage.Setting, error) {
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	settings := []stage.Setting{stage.AsBuilt(), stage.Bias(0)}
	if optimum := st.OptimumQuiescent(); optimum > 0 {
		settings = append(settings, stage.Quiescent(optimum))
	}
	return settings, nil
}
