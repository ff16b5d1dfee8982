package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/panel/server"
	"quietcross/reports/panel/set"
)

func panelResult(c *cli.Context) error {
	dir, clips, err := oneSet(c)
	if err != nil {
		return err
	}
	answers, err := answersToRead(c, dir)
	if err != nil {
		return err
	}
	store, err := server.ReadStore(answers)
	if err != nil {
		return err
	}
	defer store.Close()
	predictions, err := predict(c, clips, store)
	if err != nil {
		return err
	}
	results, err := server.Evaluate(c.Context, store, predictions)
	if err != nil {
		return err
	}
	page := c.String("page")
	if page == "" {
		page = besideAnswers(answers, ".html")
	}
	if err := corpus.WriteFile(page, results.WriteHTML); err != nil {
		return err
	}
	if err := writeTables(c, results); err != nil {
		return err
	}
	sessions := 0
	for _, m := range results.Materials {
		sessions += len(m.Listeners)
	}
	fmt.Fprintf(c.App.Writer, "%s on %s. Open %s\n", counted(sessions, "session"), counted(len(results.Materials), "material"), page)
	if results.Plan != nil && results.Closed == "" {
		fmt.Fprintln(c.App.ErrWriter, "note: the panel is not closed; a look before the end is not in the plan")
	}
	return nil
}

// counted says how many there are.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// writeTables writes the tables that are asked for.
func writeTables(c *cli.Context, results *server.Results) error {
	export := server.Export{Names: c.Bool("names"), Anonymous: c.Bool("anonymous")}
	if path := c.String("csv"); path != "" {
		if err := corpus.WriteFile(path, func(w io.Writer) error { return results.WriteCSV(w, export) }); err != nil {
			return err
		}
	}
	if path := c.String("json"); path != "" {
		return corpus.WriteFile(path, func(w io.Writer) error { return results.WriteJSON(w, export) })
	}
	return nil
}

// predict asks the ear model about the materials that were listened to, at the level at
// which they were.
func predict(c *cli.Context, clips *set.Clips, store *server.Store) ([]server.Prediction, error) {
	if c.Bool("no-prediction") {
		return nil, nil
	}
	heard, err := server.Evaluate(c.Context, store, nil)
	if err != nil {
		return nil, err
	}
	assumed, err := parsePlayback(c)
	if err != nil {
		return nil, err
	}
	var wants []set.Want
	for _, m := range heard.Materials {
		want := set.Want{Material: m.Material, Stimulus: m.Stimulus, Playback: assumed}
		if m.Playback != nil {
			want.Playback = min(max(*m.Playback, 20), 110)
		} else {
			fmt.Fprintf(c.App.ErrWriter, "note: %s: no listener knows the level at the ear; predicted for a full-scale sine at %g dB SPL\n", m.Material, assumed)
		}
		wants = append(wants, want)
	}
	line := newProgressLine(c, "predicting")
	defer line.done()
	predictions, remarks, err := clips.Predict(c.Context, wants, func(done, total int) {
		line.report(float64(done) / float64(total))
	})
	for _, remark := range remarks {
		fmt.Fprintf(c.App.ErrWriter, "note: %s\n", remark)
	}
	return predictions, err
}

// forgetListener deletes a listener.
func forgetListener(c *cli.Context) error {
	if c.NArg() != 2 {
		return usagef(c, "panel forget takes a set and a listener's code, found %d arguments", c.NArg())
	}
	path, err := answersToRead(c, c.Args().Get(0))
	if err != nil {
		return err
	}
	store, err := server.OpenStore(path)
	if err != nil {
		return err
	}
	answers, err := store.Forget(c.Context, c.Args().Get(1))
	if err = errors.Join(err, store.Close()); err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "Listener %s is deleted, with %s\n", c.Args().Get(1), counted(answers, "answer"))
	return nil
}
