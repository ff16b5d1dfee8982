package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"
)

// Answers lie beside the set and not in it, for a set is made anew and answers are not:
// SET.panel.sqlite, in the working folder when the set's own cannot be written. A file
// that an earlier version left in the set is found and goes on being used.

const (
	answersSuffix = ".panel.sqlite"
	answersInSet  = "panel.sqlite" // where earlier versions put them
)

// answersPlaces lists where the answers of the set in dir may lie, the oldest habit first.
func answersPlaces(dir string) (inSet, beside, here string) {
	if real, err := filepath.EvalSymlinks(dir); err == nil {
		dir = real
	}
	if absolute, err := filepath.Abs(dir); err == nil {
		dir = absolute
	}
	return filepath.Join(dir, answersInSet), dir + answersSuffix, filepath.Base(dir) + answersSuffix
}

// existingAnswers returns the answers' file of a set, "" when there is none. Two are
// refused: nobody but the user knows which is meant.
func existingAnswers(c *cli.Context, dir string) (string, error) {
	if path := c.String("database"); path != "" {
		return path, nil
	}
	inSet, beside, here := answersPlaces(dir)
	var found []string
	var infos []os.FileInfo
	for _, path := range []string{inSet, beside, here} {
		info, err := os.Stat(path)
		if err != nil || len(infos) > 0 && os.SameFile(info, infos[len(infos)-1]) {
			continue
		}
		found, infos = append(found, path), append(infos, info)
	}
	if len(found) > 1 {
		return "", usagef(c, "answers lie in %s: name one of them with --database", strings.Join(found, " and in "))
	}
	return strings.Join(found, ""), nil
}

// answersToRead is the file that results are worked out from.
func answersToRead(c *cli.Context, dir string) (string, error) {
	path, err := existingAnswers(c, dir)
	if err != nil || path != "" {
		return path, err
	}
	inSet, beside, here := answersPlaces(dir)
	return "", fmt.Errorf("%s: no answers: neither %s nor %s nor %s exists; if the set or the answers were moved, name the file with --database", dir, beside, inSet, here)
}

// answersToWrite is the file that a panel puts its answers into.
func answersToWrite(c *cli.Context, dir string) (string, error) {
	path, err := existingAnswers(c, dir)
	if err != nil || path != "" {
		return path, err
	}
	_, beside, here := answersPlaces(dir)
	if writable(filepath.Dir(beside)) {
		return beside, nil
	}
	return here, nil
}

// writable reports whether a file can be made in a folder, by making one.
func writable(dir string) bool {
	file, err := os.CreateTemp(dir, ".writable-*")
	if err != nil {
		return false
	}
	return errors.Join(file.Close(), os.Remove(file.Name())) == nil
}

// besideAnswers is a file of a result that belongs to the answers at path, in the
// working folder when theirs cannot be written.
func besideAnswers(path, suffix string) string {
	page := strings.TrimSuffix(path, filepath.Ext(path)) + suffix
	if !writable(filepath.Dir(page)) {
		return filepath.Base(page)
	}
	return page
}
