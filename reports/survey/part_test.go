package survey

import (
	"fmt"
	"maps"
	"strings"
	"testing"
)

// task is the environment that Slurm's manual page of sbatch ("job array", output
// environment variables) gives a task of an array, and Kubernetes one of an indexed job.
func slurmTask(id, count, low, high, step int) map[string]string {
	return map[string]string{
		slurmID: fmt.Sprint(id), slurmCount: fmt.Sprint(count), slurmMin: fmt.Sprint(low), slurmMax: fmt.Sprint(high), slurmStep: fmt.Sprint(step),
	}
}

func TestParsePart(t *testing.T) {
	kubernetes := func(index string) map[string]string { return map[string]string{kubernetesIndex: index} }
	both := kubernetes("0")
	maps.Copy(both, slurmTask(0, 4, 0, 3, 1))
	for _, c := range []struct {
		text  string
		parts int
		env   map[string]string
		want  string // or what the refusal says, after "!"
	}{
		{"2/4", 0, nil, "2/4"},
		{"1/1", 0, nil, "1/1"},
		{"2/4", 4, nil, "2/4"},
		{"2/4", 5, nil, "!not one of 5"},
		{"0/4", 0, nil, "!legal is K/N"},
		{"5/4", 0, nil, "!legal is K/N"},
		{"2", 0, nil, "!legal are K/N"},
		{"2/0", 0, nil, "!legal is K/N"},
		{"auto", 0, slurmTask(0, 4, 0, 3, 1), "1/4"},
		{"auto", 0, slurmTask(3, 4, 0, 3, 1), "4/4"},
		{"auto", 0, slurmTask(4, 4, 1, 4, 1), "4/4"},
		{"auto", 0, slurmTask(4, 4, 0, 6, 2), "3/4"},
		{"auto", 0, slurmTask(7, 3, 1, 7, 1), "!without gaps"},
		{"auto", 0, slurmTask(2, 1, 2, 2, 1), "1/1"},
		{"auto", 4, slurmTask(2, 1, 2, 2, 1), "3/4"}, // one task of four once more
		{"auto", 4, slurmTask(4, 4, 1, 4, 1), "!legal are 0 to 3"},
		{"auto", 4, kubernetes("3"), "4/4"},
		{"auto", 0, kubernetes("3"), "!--parts"},
		{"auto", 4, kubernetes("4"), "!legal are 0 to 3"},
		{"auto", 4, kubernetes("x"), "!want a whole number"},
		{"auto", 0, both, "!say the part"},
		{"auto", 4, nil, "!no task of an array job"},
		{"auto", -1, nil, "!legal is 1"},
	} {
		p, err := ParsePart(c.text, c.parts, func(name string) string { return c.env[name] })
		said, refused := strings.CutPrefix(c.want, "!")
		switch {
		case refused && (err == nil || !strings.Contains(err.Error(), said)):
			t.Errorf("%s, %d parts, %v: %v, %v, want a refusal with %q", c.text, c.parts, c.env, p, err, said)
		case !refused && (err != nil || p.String() != c.want):
			t.Errorf("%s, %d parts, %v: %v, %v, want %s", c.text, c.parts, c.env, p, err, c.want)
		}
	}
}

// Every recording is in one part and no other, parts are about equal, and what else a
// library holds changes nothing.
func TestPartsDivide(t *testing.T) {
	const files, n = 4000, 7
	sizes := make([]int, n)
	for i := range files {
		name := fmt.Sprintf("album %d/track %d.flac", i/12, i%12)
		in := 0
		for k := range n {
			if (Part{k + 1, n}).Takes(name) {
				sizes[k]++
				in++
			}
		}
		if in != 1 || !Whole.Takes(name) {
			t.Fatalf("%s is in %d parts", name, in)
		}
	}
	for k, size := range sizes {
		if size < files/n*8/10 || size > files/n*12/10 {
			t.Errorf("part %d has %d of %d", k+1, size, files)
		}
	}
}
