package server

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The test binary serves a panel itself when these are set, so that it can be
// killed for real.
const (
	childFile    = "PANEL_TEST_FILE"
	childAddress = "PANEL_TEST_ADDRESS"
	childSeconds = "PANEL_TEST_SECONDS" // length of its clips, s
)

func TestMain(m *testing.M) {
	if path := os.Getenv(childFile); path != "" {
		fmt.Fprintln(os.Stderr, serveChild(path, os.Getenv(childAddress)))
		os.Exit(1)
	}
	flag.Parse()
	if f := flag.Lookup("test.parallel"); f.Value.String() == f.DefValue {
		f.Value.Set("6") // tests that wait for sound to be heard, most of their time
	}
	code := m.Run()
	if chromium.stop != nil {
		chromium.stop()
	}
	os.Exit(code)
}

// serveChild serves until the process is killed; it prints its address first.
func serveChild(path, address string) error {
	store, err := OpenStore(path)
	if err != nil {
		return err
	}
	settings := quick(Defaults(Adaptive))
	settings.Practice, settings.Trials = 1, 6
	clips := browserClips()
	if seconds, err := strconv.Atoi(os.Getenv(childSeconds)); err == nil {
		clips.frames = seconds * clips.rate
		settings.Trials = 400
	}
	debug.SetMemoryLimit(200 << 20) // as the command does
	server, err := NewServer(Config{Clips: clips, Store: store, Settings: settings, SetHash: "4f1c", Noise: time.Millisecond})
	if err != nil {
		return err
	}
	go server.Prepare(context.Background(), nil)
	l, err := net.Listen("tcp", address)
	if err != nil {
		return err
	}
	fmt.Println(l.Addr())
	return server.Serve(context.Background(), l)
}

// child is a server in a process of its own.
type child struct {
	command *exec.Cmd
	address string
}

func startChild(t *testing.T, path, address string) *child {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childFile+"="+path, childAddress+"="+address)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("the server did not start: %v", err)
	}
	return &child{c, strings.TrimSpace(line)}
}

// kill is SIGKILL: the server cannot do anything about it.
func (c *child) kill() {
	c.command.Process.Kill()
	c.command.Wait()
}

// A server that is killed at any moment loses no answer that it called saved,
// takes none twice, and goes on with the very trial that was open.
func TestKilledServerGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "panel.sqlite")
	s := startChild(t, path, "127.0.0.1:0")
	c := newClient("http://" + s.address)
	if err := c.begin("Bowed chord"); err != nil {
		t.Fatal(err)
	}
	acknowledged := map[string]int{}
	for n := 0; ; n++ {
		before, err := c.trial()
		if err != nil {
			t.Fatal(err)
		}
		if before.Over {
			break
		}
		choice := n%3 + 1
		sent := make(chan bool, 1)
		go func() { // some answers race against the kill
			status, got, err := c.answer(before.Trial, choice)
			sent <- err == nil && status == 200 && got.Saved
		}()
		time.Sleep(time.Duration(n%4) * time.Millisecond)
		s.kill()
		saved := <-sent
		if saved {
			acknowledged[before.Trial] = choice
		}
		s = startChild(t, path, s.address)
		after, err := c.trial()
		if err != nil {
			t.Fatal(err)
		}
		if after.Trial == before.Trial {
			if saved {
				t.Errorf("trial %d: saved, and asked again", before.Number)
			}
			if fmt.Sprint(after) != fmt.Sprint(before) {
				t.Errorf("the open trial changed: %+v, then %+v", before, after)
			}
			if status, _, _, err := c.send("GET", "/clip/"+after.Clips[2], "", ""); err != nil || status != 200 {
				t.Errorf("a clip of the open trial: %d %v", status, err)
			}
			if status, _, err := c.answer(after.Trial, choice); err != nil || status != 200 {
				t.Errorf("answer after the restart: %d %v", status, err)
			}
			acknowledged[after.Trial] = choice
		} else if !saved {
			acknowledged[before.Trial] = choice // it was saved, only the receipt was lost
		}
	}
	s.kill()
	checkAnswers(t, path, acknowledged)
}

// checkAnswers compares a file with the answers that clients know as saved.
func checkAnswers(t *testing.T, path string, want map[string]int) {
	t.Helper()
	store := openStore(t, path)
	sessions, err := store.Sessions(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, v := range sessions {
		trials, err := store.Trials(t.Context(), v.ID)
		if err != nil {
			t.Fatal(err)
		}
		for i, tr := range trials {
			if tr.Number != i+1 {
				t.Errorf("trial %d has number %d", i+1, tr.Number)
			}
			if tr.Open() {
				continue
			}
			found++
			if want[tr.Token] != tr.Choice {
				t.Errorf("trial %d: stored %d, saved %d", tr.Number, tr.Choice, want[tr.Token])
			}
		}
	}
	if found != len(want) {
		t.Errorf("%d answers stored, %d saved", found, len(want))
	}
}
