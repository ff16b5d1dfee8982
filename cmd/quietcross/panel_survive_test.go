package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"quietcross/reports/panel/server"
)

// childCommand makes the test binary run a command line instead of tests, so that it can
// be killed for real.
const childCommand = "QUIETCROSS_TEST_COMMAND"

func TestMain(m *testing.M) {
	if line := os.Getenv(childCommand); line != "" {
		os.Args = strings.Split(line, "\x1f")
		main()
	}
	if filepath.Base(os.Args[0]) == "quietcross" { // so called by a link
		main()
	}
	os.Exit(m.Run())
}

// startCommand runs a command line in a process of its own.
func startCommand(t *testing.T, stdout io.Writer, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childCommand+"="+strings.Join(append([]string{"quietcross"}, args...), "\x1f"))
	c.Stdout = stdout
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait() })
	return c
}

// openedPanel is a panel in a process of its own.
type openedPanel struct {
	command *exec.Cmd
	address string
}

func startPanel(t *testing.T, args ...string) openedPanel {
	t.Helper()
	reader, writer := io.Pipe()
	c := startCommand(t, writer, append([]string{"panel", "open", "--port", "0"}, args...)...)
	found := make(chan string, 1)
	go func() {
		address := regexp.MustCompile(`https?://localhost:\d+`)
		var said []byte
		block := make([]byte, 1024)
		for {
			n, err := reader.Read(block)
			said = append(said, block[:n]...)
			if at := address.Find(said); at != nil {
				found <- string(at)
				io.Copy(io.Discard, reader)
				return
			}
			if err != nil {
				return
			}
		}
	}()
	select {
	case at := <-found:
		return openedPanel{c, at}
	case <-time.After(time.Minute):
		t.Fatal("the panel did not open")
	}
	return openedPanel{}
}

// A survivor is a browser that goes on whatever becomes of its server, and knows which of
// its answers were called saved.
type survivor struct {
	http  *http.Client
	begun bool
	saved map[string]int
}

func (s *survivor) call(method, url, kind, body string, into any) (int, error) {
	q, err := http.NewRequest(method, url, bytes.NewReader([]byte(body)))
	if err != nil {
		return 0, err
	}
	q.Header.Set("Content-Type", kind)
	w, err := s.http.Do(q)
	if err != nil {
		return 0, err
	}
	defer w.Body.Close()
	text, err := io.ReadAll(w.Body)
	if err == nil && into != nil && w.StatusCode == http.StatusOK {
		err = json.Unmarshal(text, into)
	}
	return w.StatusCode, err
}

// step begins, or answers one trial; failures are met again at the next step.
func (s *survivor) step(base string) {
	const form = "application/x-www-form-urlencoded"
	if !s.begun {
		if status, err := s.call("POST", base+"/begin", form, "consent=yes&material=tone/-20dB", nil); err != nil || status != 200 {
			return
		}
		s.begun = true
	}
	var trial struct {
		Trial  string   `json:"trial"`
		Clips  []string `json:"clips"`
		Listen float64  `json:"listen"`
	}
	if status, err := s.call("GET", base+"/trial", "", "", &trial); status == http.StatusConflict {
		s.call("GET", base+"/noise", "", "", nil)
		time.Sleep(5100 * time.Millisecond)
		s.call("POST", base+"/noise", "application/json", `{"seconds":5.05}`, nil)
		s.call("POST", base+"/level", form, "read=yes&how=voice:normal", nil)
		return
	} else if err != nil || status != 200 || trial.Trial == "" {
		time.Sleep(20 * time.Millisecond)
		return
	}
	choice := 1 + len(s.saved)%3
	time.Sleep(time.Duration(3 * trial.Listen * float64(time.Second)))
	var receipt struct{ Saved bool }
	body := fmt.Sprintf(`{"trial":%q,"choice":%d,"heard":[2,2,2],"switches":2}`, trial.Trial, choice)
	if status, err := s.call("POST", base+"/answer", "application/json", body, &receipt); err == nil && status == 200 && receipt.Saved {
		s.saved[trial.Trial] = choice
	}
}

// Ten listeners answer while the set is rendered anew by force, the server is killed, the
// terminal is closed, a second server is started and the set is moved, at random moments:
// no answer that was called saved is lost, no file of the set changes, and each refusal
// says what to do. 50 moments with
// QUIETCROSS_LONG=1, 5 otherwise.
func TestAnswersSurvive(t *testing.T) {
	moments := 5
	if os.Getenv("QUIETCROSS_LONG") != "" {
		moments = 50
	}
	dir := t.TempDir()
	out := filepath.Join(dir, "set")
	render := []string{"render", "--force", "--out", out, "--material", "tone", "--quiescent", "1mA,5mA", "--level", "-20"}
	if code, _, stderr := command(t, render...); code != exitDone {
		t.Fatal(stderr)
	}
	plan := filepath.Join(dir, "plan.toml")
	text := "[session]\ntrials = 400\npractice = 0\ncatch_every = 0\nbreak_every = 0\nminimum_listening = \"10ms\"\n"
	if err := os.WriteFile(plan, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	before := treeOf(t, out)
	var mu sync.RWMutex
	panel := startPanel(t, "--plan", plan, out)
	base := func() string { mu.RLock(); defer mu.RUnlock(); return panel.address }
	stop := make(chan struct{})
	var group sync.WaitGroup
	listeners := make([]*survivor, 10)
	var underway, total atomic.Int64
	for i := range listeners {
		jar, _ := cookiejar.New(nil)
		s := &survivor{http: &http.Client{Jar: jar, Timeout: 20 * time.Second}, saved: map[string]int{}}
		listeners[i] = s
		group.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					before := len(s.saved)
					s.step(base())
					if total.Add(int64(len(s.saved) - before)); before == 0 && len(s.saved) > 0 {
						underway.Add(1)
					}
				}
			}
		})
	}
	for end := time.Now().Add(2 * time.Minute); underway.Load() < int64(len(listeners)); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("only %d listeners are under way", underway.Load())
		}
	}
	closing := os.Signal(syscall.SIGHUP)
	if signal.Ignored(closing) { // these tests shall outlive the terminal, and so does the panel
		closing = syscall.SIGTERM
	}
	rng := rand.New(rand.NewPCG(1, 15))
	again := func(end os.Signal) {
		mu.Lock()
		defer mu.Unlock()
		panel.command.Process.Signal(end)
		panel.command.Wait()
		panel = startPanel(t, "--plan", plan, out)
	}
	for n := range moments {
		// Some answers between one moment and the next, as far as the machine lets them.
		for end, want := time.Now().Add(8*time.Second), total.Load()+3; total.Load() < want && time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		}
		time.Sleep(time.Duration(rng.IntN(400)) * time.Millisecond)
		switch n % 5 {
		case 0:
			if code, _, stderr := command(t, render...); code != exitFailed || !strings.Contains(stderr, "open panel") || !strings.Contains(stderr, "end that first") {
				t.Errorf("--force: exit code %d, said %q", code, stderr)
			}
		case 1:
			again(syscall.SIGKILL)
		case 2:
			again(closing)
		case 3:
			if code, _, stderr := command(t, "panel", "open", "--plan", plan, "--port", "0", out); code != exitFailed || !strings.Contains(stderr, "another panel") || !strings.Contains(stderr, "--database") {
				t.Errorf("two servers: exit code %d, said %q", code, stderr)
			}
		case 4:
			moved := out + "-moved"
			mu.Lock()
			if err := os.Rename(out, moved); err != nil {
				t.Fatal(err)
			}
			if code, _, stderr := command(t, "panel", "result", "--no-prediction", moved); code != exitFailed || !strings.Contains(stderr, "--database") {
				t.Errorf("a moved set: exit code %d, said %q", code, stderr)
			}
			if err := os.Rename(moved, out); err != nil {
				t.Fatal(err)
			}
			mu.Unlock()
		}
	}
	close(stop)
	group.Wait()
	panel.command.Process.Kill()
	panel.command.Wait()
	if after := treeOf(t, out); !slices.Equal(before, after) {
		t.Errorf("the set holds %q, it held %q", after, before)
	}
	checkSaved(t, out+answersSuffix, listeners)
}

// treeOf lists the files of a folder with their contents' sizes and times.
func treeOf(t *testing.T, dir string) (files []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		info, err := e.Info()
		files = append(files, fmt.Sprint(path, info.Size(), info.ModTime().UnixNano()))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// checkSaved compares a file with the answers that the listeners know as saved.
func checkSaved(t *testing.T, path string, listeners []*survivor) {
	t.Helper()
	store, err := server.ReadStore(path)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	stored := map[string]int{}
	sessions, err := store.Sessions(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range sessions {
		trials, err := store.Trials(t.Context(), v.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range trials {
			stored[tr.Token] = tr.Choice
		}
	}
	saved := 0
	for i, s := range listeners {
		saved += len(s.saved)
		for trial, choice := range s.saved {
			if stored[trial] != choice {
				t.Errorf("listener %d: saved %d, stored %d", i, choice, stored[trial])
			}
		}
	}
	t.Logf("%d answers were called saved, %d sessions", saved, len(sessions))
	if saved < 10 {
		t.Errorf("only %d answers", saved)
	}
}
