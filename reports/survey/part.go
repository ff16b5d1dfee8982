package survey

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Part is the share K of N of a library, 1 <= K <= N <= MaxParts. Which recordings are in
// it depends on their names alone, so that it stays the same whatever else the library
// holds and in whatever order it is listed.
type Part struct {
	K int `json:"k"`
	N int `json:"n"`
}

// MaxParts bounds the number of parts.
const MaxParts = 100_000

// Whole is all of a library.
var Whole = Part{1, 1}

// Takes tells whether a recording of a name is in the part.
func (p Part) Takes(name string) bool {
	return drawn("part "+name)%uint64(p.N) == uint64(p.K-1)
}

// String returns "K/N".
func (p Part) String() string { return fmt.Sprintf("%d/%d", p.K, p.N) }

func (p Part) check() error {
	if p.N > MaxParts || p.K < 1 || p.K > p.N {
		return fmt.Errorf("survey: part %v; legal is K/N with K from 1 to N and N up to %d", p, MaxParts)
	}
	return nil
}

// parsePartTerm reads the part that a store is bound to.
func parsePartTerm(text string) (p Part, err error) {
	if err = json.Unmarshal([]byte(text), &p); err != nil {
		return p, err
	}
	return p, p.check()
}

// ParsePart reads a part: "K/N", or "auto" for that of the task of an array job, which
// getenv tells of. parts is their number where it is stated, 0 where it is not.
//
// A Slurm array states its own number; the first task of a regular array (0-3, 1-4, 0-6:2)
// is part 1. With parts given, so that some tasks alone can be run once more, tasks must
// be numbered from 0, and so they are in an indexed job of Kubernetes, which does not
// state its number.
func ParsePart(text string, parts int, getenv func(string) string) (Part, error) {
	if parts < 0 {
		return Part{}, fmt.Errorf("%d parts; legal is 1 to %d", parts, MaxParts)
	}
	if text == "auto" {
		p, err := automatic(parts, getenv)
		if err != nil {
			return p, err
		}
		return p, p.check()
	}
	first, second, ok := strings.Cut(text, "/")
	k, errK := strconv.Atoi(first)
	n, errN := strconv.Atoi(second)
	if !ok || errK != nil || errN != nil {
		return Part{}, fmt.Errorf("found %q; legal are K/N, for example 2/4, and auto", text)
	}
	if parts != 0 && parts != n {
		return Part{}, fmt.Errorf("part %s is not one of %d", text, parts)
	}
	p := Part{k, n}
	return p, p.check()
}

// Variables of the schedulers.
const (
	slurmID, slurmCount, slurmMin, slurmMax, slurmStep = "SLURM_ARRAY_TASK_ID", "SLURM_ARRAY_TASK_COUNT", "SLURM_ARRAY_TASK_MIN", "SLURM_ARRAY_TASK_MAX", "SLURM_ARRAY_TASK_STEP"

	kubernetesIndex = "JOB_COMPLETION_INDEX"
)

func automatic(parts int, getenv func(string) string) (Part, error) {
	inSlurm, inKubernetes := getenv(slurmID) != "", getenv(kubernetesIndex) != ""
	switch {
	case inSlurm && inKubernetes:
		return Part{}, fmt.Errorf("both %s and %s are set: say the part as K/N", slurmID, kubernetesIndex)
	case inSlurm && parts == 0:
		return slurmPart(getenv)
	case inSlurm:
		return indexed(slurmID, parts, getenv)
	case inKubernetes && parts == 0:
		return Part{}, fmt.Errorf("%s is set, but an indexed job does not tell how many tasks it has: say so with --parts", kubernetesIndex)
	case inKubernetes:
		return indexed(kubernetesIndex, parts, getenv)
	}
	return Part{}, fmt.Errorf("neither %s nor %s is set: this is no task of an array job", slurmID, kubernetesIndex)
}

// indexed is the part of a task that is numbered from 0.
func indexed(name string, parts int, getenv func(string) string) (Part, error) {
	index, err := number(name, getenv)
	if err != nil {
		return Part{}, err
	}
	if index < 0 || index >= parts {
		return Part{}, fmt.Errorf("%s is %d; with %d parts legal are 0 to %d", name, index, parts, parts-1)
	}
	return Part{index + 1, parts}, nil
}

// slurmPart is the part of a task of a regular array.
func slurmPart(getenv func(string) string) (Part, error) {
	step := 1
	var err error
	if getenv(slurmStep) != "" {
		if step, err = number(slurmStep, getenv); err != nil {
			return Part{}, err
		}
	}
	id, errID := number(slurmID, getenv)
	count, errCount := number(slurmCount, getenv)
	low, errLow := number(slurmMin, getenv)
	high, errHigh := number(slurmMax, getenv)
	if err := errors.Join(errID, errCount, errLow, errHigh); err != nil {
		return Part{}, err
	}
	if step < 1 || (high-low)/step+1 != count || (id-low)%step != 0 || id < low || id > high {
		return Part{}, fmt.Errorf("task %d of the array %d-%d:%d with %d tasks: legal are arrays without gaps, such as 0-3; say --parts and number from 0 to run some tasks alone", id, low, high, step, count)
	}
	return Part{(id-low)/step + 1, count}, nil
}

func number(name string, getenv func(string) string) (int, error) {
	n, err := strconv.Atoi(getenv(name))
	if err != nil {
		return 0, fmt.Errorf("%s: found %q, want a whole number", name, getenv(name))
	}
	return n, nil
}
