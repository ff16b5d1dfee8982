// Command quietcross passes WAV files through a physical model of a biased
// push-pull output stage at chosen bias levels and writes processed audio plus
// a spectral distortion report, so that audibility thresholds of crossover
// distortion can be judged by ear and by number.
//
// Exit codes: 0 done, 1 failed, 2 wrong usage.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/mattn/go-isatty"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

func main() {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // ignored for one who shall outlive the terminal
		signals = append(signals, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(context.Background(), signals...)
	code := run(ctx, os.Args, os.Stdout, os.Stderr, isatty.IsTerminal(os.Stderr.Fd()))
	stop()
	os.Exit(code)
}

// run executes one command line and returns its exit code. Progress goes to
// stderr when that is a terminal.
func run(ctx context.Context, args []string, stdout, stderr io.Writer, terminal bool) int {
	app := newApp(stdout, stderr, terminal)
	err := app.RunContext(ctx, args)
	if err == nil {
		return exitDone
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(stderr, "quietcross: interrupted; nothing half-written was left")
		return exitFailed
	}
	fmt.Fprintf(stderr, "quietcross: %v\n", err)
	var usage *usageError
	if errors.As(err, &usage) {
		fmt.Fprintf(stderr, "See '%s --help'.\n", usage.command)
		return exitUsage
	}
	return exitFailed
}
