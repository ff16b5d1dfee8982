package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strconv"
	"syscall"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/panel/server"
	"quietcross/reports/panel/set"
	"quietcross/stage/quantity"
)

const panelDescription = `Finds by ear, blind, the smallest crossover distortion that listeners hear on a
rendered set. Each answer is on the disk before the page says so; stop and start
the server at will.

   quietcross panel open demo
   quietcross panel open --lan --method triangle --quiescent 5mA demo
   quietcross panel result --page result.html demo

The level set-up page comes first.`

func panelCommand() *cli.Command {
	database := &cli.StringFlag{Name: "database", Usage: "answers in `FILE` (default: SET" + answersSuffix + ", beside the set)"}
	return &cli.Command{
		Name:         "panel",
		Usage:        "blind listening test on a rendered set",
		Description:  panelDescription,
		OnUsageError: onUsageError,
		Action:       noSubcommand,
		Subcommands: []*cli.Command{
			{
				Name:         "open",
				Usage:        "serve the listening test on a local web page",
				ArgsUsage:    "SET",
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					database,
					&cli.BoolFlag{Name: "lan", Usage: "serve other machines of the local network too, by a join code"},
					&cli.IntFlag{Name: "port", Value: 8340, Usage: "listen on `PORT`; 0 takes any free one"},
					&cli.StringFlag{Name: "method", Value: string(server.Adaptive), Usage: "`METHOD`: adaptive, staircase, triangle or graded"},
					&cli.IntFlag{Name: "trials", Usage: "number of test `TRIALS`, or of rounds when graded (default: the method's own)"},
					&cli.StringFlag{Name: "quiescent", Usage: "triangle: test this quiescent `CURRENT`"},
					&cli.Float64Flag{Name: "alpha", Usage: "size of the significance tests (default: the method's own)"},
				},
				Action: openPanel,
			},
			{
				Name:         "result",
				Usage:        "evaluate the answers",
				ArgsUsage:    "SET",
				OnUsageError: onUsageError,
				Flags: []cli.Flag{
					database,
					&cli.StringFlag{Name: "page", Usage: "write the printable result to `FILE.html` (default: beside the answers)"},
					&cli.StringFlag{Name: "csv", Usage: "write every trial to `FILE.csv`"},
					&cli.BoolFlag{Name: "no-prediction", Usage: "leave out what the ear model predicts"},
					playbackFlag(),
				},
				Action: panelResult,
			},
		},
	}
}

// oneSet opens the set that a subcommand's single argument names.
func oneSet(c *cli.Context) (dir string, clips *set.Clips, err error) {
	if c.NArg() != 1 {
		return "", nil, usagef(c, "panel %s takes one rendered set, found %d arguments", c.Command.Name, c.NArg())
	}
	dir = c.Args().First()
	clips, err = set.Open(dir)
	return dir, clips, err
}

func openPanel(c *cli.Context) (err error) {
	dir, clips, err := oneSet(c)
	if err != nil {
		return err
	}
	settings, err := panelSettings(c)
	if err != nil {
		return err
	}
	release, err := corpus.Hold(dir) // no run replaces the set under the listeners
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, release()) }()
	store, err := openAnswers(c, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	config, err := panelConfig(c, dir, clips, settings, store)
	if err != nil {
		return err
	}
	server, err := server.NewServer(config)
	if err != nil {
		return wrapUsage(c, err)
	}
	listener, err := listen(c)
	if err != nil {
		return err
	}
	if err := preparePanel(c, server); err != nil {
		return errors.Join(err, listener.Close())
	}
	printPanel(c, listener, config.JoinCode)
	fmt.Fprintf(c.App.Writer, "Answers go into %s\n", store.Path())
	return server.Serve(c.Context, listener)
}

// openAnswers opens the file that the panel's answers go into.
func openAnswers(c *cli.Context, dir string) (*server.Store, error) {
	path, err := answersToWrite(c, dir)
	if err != nil {
		return nil, err
	}
	store, err := server.OpenStore(path)
	if errors.Is(err, syscall.EROFS) || errors.Is(err, os.ErrPermission) {
		return nil, fmt.Errorf("%w: answers cannot be written there; name another file with --database", err)
	}
	return store, err
}

// preparePanel renders what the first trials need.
func preparePanel(c *cli.Context, server *server.Server) error {
	line := newProgressLine(c, "preparing")
	defer line.done()
	return server.Prepare(c.Context, func(_ string, n, of int) { line.report(float64(n-1) / float64(of)) })
}

// panelSettings reads how sessions are run.
func panelSettings(c *cli.Context) (server.Settings, error) {
	settings := server.Defaults(server.Method(c.String("method")))
	settings.Method = server.Method(c.String("method"))
	if c.IsSet("trials") {
		settings.Trials = c.Int("trials")
	}
	if c.IsSet("alpha") {
		settings.Alpha = c.Float64("alpha")
	}
	if c.IsSet("quiescent") {
		value, err := parseUnit(quantity.Ampere)(c.String("quiescent"))
		if err != nil {
			return settings, usagef(c, "--quiescent: %w", err)
		}
		settings.Quiescent = value
	}
	return settings, wrapUsage(c, settings.Validate())
}

// panelConfig states the set and its conditions, with a join code for the local
// network.
func panelConfig(c *cli.Context, dir string, clips *set.Clips, settings server.Settings, store *server.Store) (server.Config, error) {
	sum, err := hashFile(filepath.Join(dir, corpus.ManifestFile))
	if err != nil {
		return server.Config{}, err
	}
	m := clips.Manifest()
	config := server.Config{
		Clips: clips, Store: store, Settings: settings, Title: filepath.Base(dir) + ", " + m.Stage, SetHash: sum, Version: programVersion(), SetSeed: m.Seed,
	}
	if c.Bool("lan") {
		config.Hosts = localAddresses()
		config.JoinCode, err = store.JoinCode()
	}
	return config, err
}

// hashFile returns the beginning of a file's SHA-256.
func hashFile(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	hash := sha256.New()
	if _, err := io.Copy(hash, file); err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)[:8]), nil
}

// localAddresses lists this machine's own addresses in its networks.
func localAddresses() []string {
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var hosts []string
	for _, address := range addresses {
		if network, ok := address.(*net.IPNet); ok && network.IP.IsGlobalUnicast() {
			hosts = append(hosts, network.IP.String())
		}
	}
	return hosts
}

// listen opens the port, on the loopback address unless the network is served.
func listen(c *cli.Context) (net.Listener, error) {
	host := "127.0.0.1"
	if c.Bool("lan") {
		host = ""
	}
	var config net.ListenConfig
	listener, err := config.Listen(c.Context, "tcp", net.JoinHostPort(host, strconv.Itoa(c.Int("port"))))
	if err != nil {
		return nil, fmt.Errorf("%w (choose another port with --port)", err)
	}
	return listener, nil
}

// printPanel says where the panel is.
func printPanel(c *cli.Context, listener net.Listener, joinCode string) {
	_, port, err := net.SplitHostPort(listener.Addr().String())
	if err != nil {
		port = strconv.Itoa(c.Int("port"))
	}
	w := c.App.Writer
	fmt.Fprintf(w, "Listening panel: http://localhost:%s/\n", port)
	if c.Bool("lan") {
		for _, host := range localAddresses() {
			fmt.Fprintf(w, "On the local network: http://%s/\n", net.JoinHostPort(host, port))
		}
		fmt.Fprintf(w, "Join code for other machines: %s\n", joinCode)
	}
	fmt.Fprintln(w, "Start with the volume low. Stop with Ctrl-C; nothing answered is lost.")
}

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
	if csv := c.String("csv"); csv != "" {
		if err := corpus.WriteFile(csv, results.WriteCSV); err != nil {
			return err
		}
	}
	listeners := 0
	for _, m := range results.Materials {
		listeners += len(m.Listeners)
	}
	fmt.Fprintf(c.App.Writer, "%d sessions on %d materials. Open %s\n", listeners, len(results.Materials), page)
	return nil
}

// predict asks the ear model about the materials that were listened to.
func predict(c *cli.Context, clips *set.Clips, store *server.Store) ([]server.Prediction, error) {
	if c.Bool("no-prediction") {
		return nil, nil
	}
	sessions, err := store.Sessions(c.Context)
	if err != nil {
		return nil, err
	}
	var materials []string
	seen := map[string]bool{}
	for _, s := range sessions {
		if !seen[s.Material] {
			seen[s.Material] = true
			materials = append(materials, s.Material)
		}
	}
	spl, err := parsePlayback(c)
	if err != nil {
		return nil, err
	}
	line := newProgressLine(c, "predicting")
	defer line.done()
	predictions, remarks, err := clips.Predict(c.Context, materials, spl, func(done, total int) {
		line.report(float64(done) / float64(total))
	})
	for _, remark := range remarks {
		fmt.Fprintf(c.App.ErrWriter, "note: %s\n", remark)
	}
	return predictions, err
}
