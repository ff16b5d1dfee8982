package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
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
	page := c.String("page")
	if page == "" {
		page = besideAnswers(answers, ".html")
	}
	if err := resultFiles(c, answers, page); err != nil {
		return err
	}
	store, err := server.ReadStore(answers)
	if err != nil {
		return err
	}
	defer store.Close()
	heard, err := server.Evaluate(c.Context, store, nil)
	if err != nil {
		return err
	}
	room, err := roomOf(c, heard)
	if err != nil {
		return err
	}
	predictions, err := predict(c, clips, heard, room)
	if err != nil {
		return err
	}
	results, err := server.Evaluate(c.Context, store, predictions)
	if err != nil {
		return err
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
	return fitListener(c, clips, results, room)
}

// counted says how many there are.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// resultFiles refuses, before anything is worked out, to write over what is there: a file
// that is named only with --force, the answers never, and the page that is not named only
// when it is such a page.
func resultFiles(c *cli.Context, answers, page string) error {
	if c.IsSet("of") && !c.IsSet("listener") {
		return usagef(c, "--of says whom --listener FILE.toml is fitted to")
	}
	taken := map[string]string{}
	for _, name := range []string{"page", "csv", "json", "listener"} {
		path := c.String(name)
		if name == "page" {
			path = page
		}
		if path == "" {
			continue
		}
		if full, err := filepath.Abs(path); err == nil {
			path = full
		}
		if other := taken[path]; other != "" {
			return usagef(c, "--%s and --%s name one file, %s", other, name, path)
		}
		taken[path] = name
		if err := mayWrite(path, answers, c.Bool("force"), name == "page" && !c.IsSet("page")); err != nil {
			return err
		}
	}
	return nil
}

// mayWrite refuses a file that is there; see [resultFiles].
func mayWrite(path, answers string, force, ours bool) error {
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, suffix := range []string{"", "-wal", "-shm", ".lock"} {
		if own, err := os.Stat(answers + suffix); err == nil && os.SameFile(own, info) {
			return fmt.Errorf("%s belongs to the answers and is not written over: name another file", path)
		}
	}
	if force || ours && isResultPage(path) {
		return nil
	}
	return fmt.Errorf("%s exists: name another file, or say --force to write over it", path)
}

// isResultPage reports whether a file is a page of results.
func isResultPage(path string) bool {
	file, err := os.Open(path)
	if err != nil {
		return false
	}
	defer file.Close()
	head, err := io.ReadAll(io.LimitReader(file, 1<<10))
	return err == nil && bytes.Contains(head, []byte("<title>Listening panel: result</title>"))
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

// roomOf is the noise rating of the room: as typed, else the plan's, else the default.
func roomOf(c *cli.Context, results *server.Results) (float64, error) {
	conditions := hearing.DefaultConditions()
	conditions.RoomNR = results.Plan.RoomNR()
	if c.IsSet("room") {
		conditions.RoomNR = c.Float64("room")
	}
	if err := conditions.Check(); err != nil {
		return 0, usagef(c, "--room: %w", err)
	}
	return conditions.RoomNR, nil
}

// predict asks the detection model about the materials that were listened to, at the
// level at which they were.
func predict(c *cli.Context, clips *set.Clips, heard *server.Results, room float64) ([]server.Prediction, error) {
	if c.Bool("no-prediction") {
		return nil, nil
	}
	assumed, err := parsePlayback(c)
	if err != nil {
		return nil, err
	}
	var wants []set.Want
	for i := range heard.Materials {
		m := &heard.Materials[i]
		want := set.Want{Material: m.Material, Stimulus: m.Stimulus, Heard: hearing.Conditions{Playback: assumed, RoomNR: room}, Grades: len(m.Grades) > 0}
		if m.Playback != nil {
			want.Heard.Playback = min(max(*m.Playback, hearing.MinimumSPL), hearing.MaximumSPL)
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

// fitListener fits the model's efficiency to the answers and writes the listener file.
func fitListener(c *cli.Context, clips *set.Clips, results *server.Results, room float64) error {
	path := c.String("listener")
	if path == "" {
		return nil
	}
	answers, err := results.Answers(c.String("of"), room)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	presented := make([]server.Presented, len(answers))
	for i, a := range answers {
		presented[i] = a.Presented
	}
	line := newProgressLine(c, "fitting")
	defer line.done()
	dPrime, remarks, err := clips.Sensitivities(c.Context, presented, func(done, total int) {
		line.report(float64(done) / float64(total))
	})
	if err != nil {
		return err
	}
	for _, remark := range remarks {
		fmt.Fprintf(c.App.ErrWriter, "note: %s\n", remark)
	}
	fitted, err := server.FitListener(answers, dPrime)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	profile := hearing.Profile{Model: hearing.ModelVersion, Efficiency: fitted, Date: time.Now()}
	if err := corpus.WriteFile(path, profile.Write); err != nil {
		return err
	}
	fmt.Fprintf(c.App.Writer, "Efficiency %s dB (%s to %s) from %s, in a room of NR %g: %s\n",
		decibel(fitted.DB), decibel(fitted.Low), decibel(fitted.High), counted(fitted.Trials, "answer"), room, path)
	return nil
}

func decibel(x level.DB) string { return fmt.Sprintf("%.1f", float64(x)) }

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
