package main

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/reports/panel/server"
	"quietcross/reports/panel/set"
	"quietcross/stage/quantity"
)

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
	plan, err := readPlan(c)
	if err != nil {
		return err
	}
	settings, err := panelSettings(c)
	if err != nil {
		return err
	}
	if plan != nil {
		settings = plan.Settings
	}
	if err := checkTriangle(c, clips, settings); err != nil {
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
	if err := store.Register(c.Context, plan, time.Now()); err != nil {
		return err
	}
	config, err := panelConfig(c, dir, clips, settings, store)
	if err != nil {
		return err
	}
	config.Plan = plan
	panel, err := server.NewServer(config)
	if err != nil {
		return wrapUsage(c, err)
	}
	defer func() { err = errors.Join(err, panel.Close()) }()
	listener, err := listen(c)
	if err != nil {
		return err
	}
	printPanel(c, listener, config)
	fmt.Fprintf(c.App.Writer, "Answers go into %s\n", store.Path())
	return servePanel(c, panel, listener)
}

// servePanel answers at once and makes the clips ready meanwhile; it ends when that
// fails.
func servePanel(c *cli.Context, panel *server.Server, listener net.Listener) error {
	debug.SetMemoryLimit(memoryLimit)
	ctx, stop := context.WithCancel(c.Context)
	defer stop()
	prepared := make(chan error, 1)
	go func() {
		err := preparePanel(ctx, c, panel)
		if err != nil {
			stop()
		}
		prepared <- err
	}()
	err := panel.Serve(ctx, listener)
	stop()
	if failed := <-prepared; failed != nil && c.Context.Err() == nil {
		return errors.Join(failed, err)
	}
	return err
}

// readPlan reads the plan that is asked for, nil for none.
func readPlan(c *cli.Context) (*server.Plan, error) {
	path := c.String("plan")
	if path == "" {
		return nil, nil
	}
	for _, name := range []string{"method", "trials", "quiescent", "alpha", "names"} {
		if c.IsSet(name) {
			return nil, usagef(c, "--%s stands beside --plan: write it into the plan", name)
		}
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	plan, err := server.ReadPlan(file)
	if err != nil {
		return nil, usagef(c, "%s: %w", path, err)
	}
	return plan, nil
}

// checkTriangle renders the current of a triangle test once, before anybody comes.
func checkTriangle(c *cli.Context, clips *set.Clips, settings server.Settings) error {
	if settings.Method != server.Triangle {
		return nil
	}
	material := clips.Materials()[0]
	lo, hi := clips.Range(material)
	_, _, err := clips.Rendering(material, settings.Quiescent)
	if err == nil && settings.Quiescent > 0 {
		return nil
	}
	if err == nil {
		err = errors.New("there is no bias at all")
	}
	return usagef(c, "a triangle test at %s cannot be rendered (%w); the set's stage is searched from %s to %s",
		quantity.Format(settings.Quiescent, quantity.Ampere), err, quantity.Format(lo, quantity.Ampere), quantity.Format(hi, quantity.Ampere))
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
func preparePanel(ctx context.Context, c *cli.Context, server *server.Server) error {
	line := newProgressLine(c, "preparing")
	defer line.done()
	return server.Prepare(ctx, func(_ string, n, of int) { line.report(float64(n-1) / float64(of)) })
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
		Names: c.Bool("names"), Secure: c.IsSet("certificate") || c.IsSet("behind"), Behind: c.IsSet("behind"), RunKey: server.Code(12),
	}
	if c.Bool("lan") {
		config.Hosts = localAddresses()
	}
	if host := c.String("behind"); host != "" {
		if strings.ContainsAny(host, "/?#") {
			return config, usagef(c, "--behind: found %q, want a name without a path: the panel stands at the root of its proxy's address", host)
		}
		config.Hosts = append(config.Hosts, strings.ToLower(host))
	}
	if c.Bool("lan") || config.Behind {
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
	if !c.IsSet("certificate") && !c.IsSet("key") {
		return listener, nil
	}
	certificate, err := tls.LoadX509KeyPair(c.String("certificate"), c.String("key"))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("--certificate and --key: %w", err), listener.Close())
	}
	return tls.NewListener(listener, &tls.Config{Certificates: []tls.Certificate{certificate}, MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}}), nil
}

// printPanel says where the panel is.
func printPanel(c *cli.Context, listener net.Listener, config server.Config) {
	_, port, err := net.SplitHostPort(listener.Addr().String())
	if err != nil {
		port = strconv.Itoa(c.Int("port"))
	}
	scheme, base := "http", ""
	if c.IsSet("certificate") {
		scheme = "https"
	}
	base = fmt.Sprintf("%s://localhost:%s/", scheme, port)
	w := c.App.Writer
	fmt.Fprintf(w, "Listening panel: %s\n", base)
	if config.Behind {
		base = "https://" + c.String("behind") + "/"
		fmt.Fprintf(w, "Behind the proxy: %s\n", base)
	}
	if c.Bool("lan") {
		for _, host := range localAddresses() {
			fmt.Fprintf(w, "On the local network: %s://%s/\n", scheme, net.JoinHostPort(host, port))
		}
		if scheme == "http" && !config.Behind {
			fmt.Fprintln(w, "Caution: without --certificate the local network carries all in the clear.")
		}
	}
	if config.JoinCode != "" {
		fmt.Fprintf(w, "Join code for other machines: %s\n", config.JoinCode)
	}
	fmt.Fprintf(w, "Who is where, for you alone: %srun/%s\n", base, config.RunKey)
	if config.Plan != nil {
		fmt.Fprintf(w, "Plan of SHA-256 %s. %s\n", config.Plan.Hash, config.Plan.Power())
	}
	fmt.Fprintln(w, "Stop with Ctrl-C; nothing answered is lost.")
}
