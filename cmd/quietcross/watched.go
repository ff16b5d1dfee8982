package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"quietcross/dsp/intake"
)

// A watchedStream is an open file that tells how much of it was read, and ends when
// its context does: a file may be hours long.
type watchedStream struct {
	intake.Stream
	ctx   context.Context
	path  string
	done  int64
	share func(float64)
}

// openWatched opens a file and calls share with what of it was read, 0 to 1.
func openWatched(ctx context.Context, path string, share func(float64)) (*watchedStream, error) {
	stream, err := intake.Open(path)
	if err != nil {
		return nil, err
	}
	return &watchedStream{Stream: stream, ctx: ctx, path: path, share: share}, nil
}

// Read implements [intake.Stream].
func (w *watchedStream) Read(dst [][]float64) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := w.Stream.Read(dst)
	w.done += int64(n)
	w.share(float64(w.done) / float64(max(w.Frames(), 1)))
	return n, err
}

// name puts the file's path before an error that does not name it: that of a failed
// read does, that of a measurement does not.
func (w *watchedStream) name(err error) error {
	if strings.Contains(err.Error(), w.path) {
		return err
	}
	return fmt.Errorf("%s: %w", w.path, err)
}

// checkArgument refuses a flag that stands where a file is expected. A file whose
// name begins with a dash is taken when there is one.
func checkArgument(c *cli.Context, path string) error {
	if !strings.HasPrefix(path, "-") {
		return nil
	}
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	return usagef(c, "flag %s stands after a file name; write flags first", path)
}
