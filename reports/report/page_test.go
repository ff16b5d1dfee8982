package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/planar"
	"quietcross/reports/internal/sample"
)

// write makes a sample set, its report and its page.
func write(t *testing.T, o sample.Options) (dir string, r *Report) {
	t.Helper()
	dir = t.TempDir()
	if err := sample.Write(dir, o); err != nil {
		t.Fatal(err)
	}
	r, err := Build(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := WritePage(dir, r); err != nil {
		t.Fatal(err)
	}
	return dir, r
}

func read(t *testing.T, path ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Eight items at eight rungs with noise in every cell of their spectrograms,
// which is what compresses worst, and the longest courses stay under 5 MB.
func TestPageStaysSmall(t *testing.T) {
	_, r := write(t, sample.Options{Tones: 4, Programmes: 4, Rungs: 8, Seconds: 0.8, Rate: 48000})
	rng := rand.New(rand.NewPCG(5, 5))
	for i := range r.Items {
		for k := range r.Items[i].Renderings {
			s := r.Items[i].Renderings[k].Residue
			s.Cols = 256
			s.Level = make([]float32, s.Cols*s.Rows)
			for j := range s.Level {
				s.Level[j] = float32(-60 - 50*rng.Float64())
			}
			course := &r.Items[i].Renderings[k].Detection.Course
			course.Step = s.Seconds / 512
			course.Probability = make([]float64, 512)
			for j := range course.Probability {
				course.Probability[j] = rng.Float64()
			}
		}
	}
	var b bytes.Buffer
	if err := render(&b, r); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes", b.Len())
	if b.Len() > 5_000_000 {
		t.Errorf("%d bytes", b.Len())
	}
}

func TestPageIsDeterministic(t *testing.T) {
	_, r := write(t, sample.Options{Tones: 1, Rungs: 2, Seconds: 0.5, Rate: 48000})
	var first, second bytes.Buffer
	if err := errors.Join(render(&first, r), render(&second, r)); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Error("two pages of one report differ")
	}
}

// Names from files reach the page in text, attributes, figures, links and the
// data block: in none may they become markup.
func TestHostileNamesAreInert(t *testing.T) {
	_, r := write(t, sample.Options{Programmes: 1, Rungs: 2, Seconds: 0.5, Rate: 48000})
	r.Title, r.Stage, r.Circuit, r.Program, r.Version = sample.Hostile, sample.Hostile, sample.Hostile, sample.Hostile, sample.Hostile
	r.Warnings = []string{sample.Hostile}
	item := &r.Items[0]
	item.Source.Title, item.Source.Shows, item.Source.Format = sample.Hostile, sample.Hostile, sample.Hostile
	item.Warnings = []string{sample.Hostile}
	r.Rungs[0].Label, r.Rungs[0].ID = sample.Hostile, sample.Hostile
	item.Reference.File = "javascript:alert(1)//\"><img src=x>"
	item.Renderings[0].Finding = sample.Hostile
	var b bytes.Buffer
	if err := render(&b, r); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	if strings.Contains(text, "<img") {
		t.Error("an img element got in")
	}
	if n := strings.Count(text, "<script"); n != 2 {
		t.Errorf("%d script elements, want 2", n)
	}
	if n := strings.Count(text, "</script"); n != 2 {
		t.Errorf("%d ends of script elements, want 2", n)
	}
	if regexp.MustCompile(`(?i)(href|src)="?\s*javascript:`).MatchString(text) {
		t.Error("a script address got in")
	}
	if strings.Contains(text, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
}

// Every figure of the page has to be well-formed and every id unique.
func TestFiguresAreWellFormed(t *testing.T) {
	dir, _ := write(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 3, Seconds: 1.5, Rate: 48000})
	text := read(t, dir, File)
	ids := map[string]bool{}
	for _, m := range regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(text, -1) {
		if ids[m[1]] {
			t.Errorf("id %s is there twice", m[1])
		}
		ids[m[1]] = true
	}
	figures := regexp.MustCompile(`(?s)<figure>(.*?)<figcaption>`).FindAllStringSubmatch(text, -1)
	// One of when it is heard, three of what stands out, two of the transfer, two of the
	// crossing and three spectrograms an item,
	// two of the tone, two of the programme; four of all items together.
	if len(figures) != 30 {
		t.Errorf("%d figures", len(figures))
	}
	for _, m := range figures {
		decoder := xml.NewDecoder(strings.NewReader(m[1]))
		for {
			if _, err := decoder.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatalf("%v in %.200s", err, m[1])
			}
		}
	}
}

// Nothing in the page may name an address elsewhere but as a namespace or text.
func TestPageNamesNoAddress(t *testing.T) {
	dir, _ := write(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.3, Rate: 48000})
	if m := regexp.MustCompile(`(?i)(https?:)?//[a-z0-9.-]+\.[a-z]{2,}`).FindString(read(t, dir, File)); m != "" {
		t.Errorf("the page names %s", m)
	}
}

func TestWriteLeavesNoPartFiles(t *testing.T) {
	dir, r := write(t, sample.Options{Tones: 2, Rungs: 1, Seconds: 0.3, Rate: 48000})
	r.Items = r.Items[:1]
	if err := WritePage(dir, r); err != nil {
		t.Fatal(err)
	}
	clips, err := os.ReadDir(filepath.Join(dir, ClipFolder))
	if err != nil {
		t.Fatal(err)
	}
	if len(clips) != 1 || clips[0].Name() != "0.js" {
		t.Errorf("clips %v, want 0.js alone", clips)
	}
	hidden, err := filepath.Glob(filepath.Join(dir, ".*"))
	if err != nil || len(hidden) > 0 {
		t.Errorf("left over: %v, %v", hidden, err)
	}
}

func TestWriteReportsAMissingFile(t *testing.T) {
	dir, r := write(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.3, Rate: 48000})
	before := read(t, dir, File)
	if err := os.Remove(filepath.Join(dir, filepath.FromSlash(r.Items[0].Renderings[0].Residual.File))); err != nil {
		t.Fatal(err)
	}
	if err := WritePage(dir, r); err == nil || !strings.Contains(err.Error(), "00-residual.wav") {
		t.Errorf("error %v", err)
	}
	if read(t, dir, File) != before || read(t, dir, ClipFolder, "0.js") == "" {
		t.Error("the page or its clip was touched")
	}
}

// parseClip reads a clip back as the page does.
func parseClip(t *testing.T, text string) []clipTrack {
	t.Helper()
	body := strings.TrimSuffix(strings.TrimPrefix(text, "quietcrossClip(0,"), ");\n")
	var tracks []clipTrack
	if err := json.Unmarshal([]byte(body), &tracks); err != nil {
		t.Fatal(err)
	}
	return tracks
}

func samples(t clipTrack) []float64 {
	x := make([]float64, len(t.PCM)/2)
	for i := range x {
		x[i] = t.Scale * float64(int16(uint16(t.PCM[2*i])|uint16(t.PCM[2*i+1])<<8))
	}
	return x
}

// What a clip plays has to be the file, within the 16 bits of each part: one
// count of rounding and one of dither.
func TestClipHoldsTheFiles(t *testing.T) {
	dir, r := write(t, sample.Options{Tones: 1, Rungs: 3, Seconds: 0.5, Rate: 48000})
	item := &r.Items[0]
	tracks := parseClip(t, read(t, dir, ClipFolder, "0.js"))
	if len(tracks) != 7 {
		t.Fatalf("%d tracks", len(tracks))
	}
	c := clip{dir: dir, item: item}
	files := []string{item.Reference.File}
	for _, rendering := range item.Renderings {
		files = append(files, rendering.File, rendering.Residual.File)
	}
	for i, file := range files {
		want, err := c.read(new(planar.Audio), file)
		if err != nil {
			t.Fatal(err)
		}
		got, count := samples(tracks[i]), tracks[i].Scale
		if mix := tracks[i].Mix; mix != nil {
			a, b := samples(tracks[mix[0].Track]), samples(tracks[mix[1].Track])
			got = make([]float64, len(a))
			for j := range a {
				got[j] = a[j]*mix[0].Gain + b[j]*mix[1].Gain
			}
			count = tracks[0].Scale*mix[0].Gain + tracks[mix[1].Track].Scale*mix[1].Gain
		}
		for j := range want[0] {
			if d := math.Abs(got[j] - want[0][j]); !(d <= 1.51*count) {
				t.Fatalf("%s: sample %d is %g, the file has %g", file, j, got[j], want[0][j])
			}
		}
	}
}

// A file that is not the mix of its parts, as when it was clipped, is stored
// itself.
func TestClipStoresWhatIsNoMix(t *testing.T) {
	dir, r := write(t, sample.Options{Tones: 1, Rungs: 1, Seconds: 0.2, Rate: 48000})
	if tracks := parseClip(t, read(t, dir, ClipFolder, "0.js")); tracks[1].Mix == nil {
		t.Fatal("the output of a sample is no mix")
	}
	r.Items[0].Renderings[0].Gain *= 1.01
	var b bytes.Buffer
	if err := writeClip(&b, dir, 0, &r.Items[0], 1); err != nil {
		t.Fatal(err)
	}
	if tracks := parseClip(t, b.String()); tracks[1].Mix != nil || len(tracks[1].PCM) != 2*9600 {
		t.Error("a wrong mix was believed")
	}
}

func TestSilenceStaysSilent(t *testing.T) {
	c := clip{dither: rand.New(rand.NewPCG(1, 1))}
	track := c.store([][]float64{make([]float64, 100)})
	if strings.Trim(string(track.PCM), "\x00") != "" || track.Scale != 0 {
		t.Error("digital silence was dithered")
	}
}

func TestLinkStaysInsideTheSet(t *testing.T) {
	for file, want := range map[string]string{
		"a b/50%.wav":          "./a%20b/50%25.wav",
		"javascript:alert(1)":  "./javascript:alert%281%29",
		`x"><script>/y.wav?#1`: "./x%22%3E%3Cscript%3E/y.wav%3F%231",
	} {
		if got := string(link(file)); got != want {
			t.Errorf("link(%q) = %q, want %q", file, got, want)
		}
	}
}

// Silence has no harmonics, no crossing and no loudness, and is no error.
func TestSilentSet(t *testing.T) {
	dir, r := write(t, sample.Options{Tones: 1, Programmes: 1, Rungs: 2, Seconds: 1, Rate: 48000, Silent: true})
	if err := r.Write(dir); err != nil {
		t.Fatal(err)
	}
	if text := read(t, dir, File); strings.Contains(text, "NaN") || !strings.Contains(text, "nothing of the tone comes through") {
		t.Error("the page of a silent set has NaN or does not say that it is silent")
	}
}

func TestEmptySet(t *testing.T) {
	var b bytes.Buffer
	r := &Report{Rungs: []Rung{{Rung: bias.Rung{ID: "x"}, Label: "x"}}}
	if err := render(&b, r); err != nil {
		t.Fatal(err)
	}
}
