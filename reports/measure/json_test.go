package measure

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"strings"
	"testing"

	"quietcross/dsp/wave"
)

// TestValuesByUnit writes one figure of each unit.
func TestValuesByUnit(t *testing.T) {
	for _, c := range []struct {
		figure Figure
		want   string
	}{
		{Figure{Unit: Ratio, Value: 0.01}, "−40.0 dB (1.00 %)"},
		{Figure{Unit: Ratio, Value: 1000}, "+60.0 dB"},
		{Figure{Unit: FullScale, Value: 0.5}, "−6.0 dBFS"},
		{Figure{Unit: Hertz, Value: 997}, "997.000000 Hz"},
		{Figure{Unit: Samples, Value: 0.25}, "0.2500 samples"},
		{Figure{Unit: LUFS, Value: -23}, "−23.0 LUFS"},
		{Figure{Unit: PerUnit, Value: 50e-6}, "50.0000 ppm"},
		{Figure{Unit: Count, Value: 12345}, "12 345"},
	} {
		if got := strings.ReplaceAll(rowOf(c.figure).value, "\u00a0", " "); got != c.want {
			t.Errorf("%v: %q, want %q", c.figure, got, c.want)
		}
	}
}

// TestUncertaintyOfALevel takes it through the logarithm: one percent of an
// amplitude is 0.0869 dB (20/ln 10 · 0.01).
func TestUncertaintyOfALevel(t *testing.T) {
	r := rowOf(Figure{Unit: FullScale, Value: 0.5, Sigma: 0.005})
	if got := strings.ReplaceAll(r.uncertainty, "\u00a0", " "); got != "±0.087 dB" {
		t.Errorf("uncertainty %q, want ±0.087 dB", got)
	}
	r = rowOf(Figure{Unit: Ratio, Value: 1e-6, Unresolved: true})
	if !strings.HasPrefix(r.value, "at most about") {
		t.Errorf("an unresolved value reads %q", r.value)
	}
}

// stream is a recording in memory.
type stream struct{ rest []float64 }

func (s *stream) Format() wave.Format { return wave.Format{Rate: 48000, Channels: 1} }

func (s *stream) Read(dst [][]float64) (int, error) {
	n := copy(dst[0], s.rest)
	s.rest = s.rest[n:]
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// toneRecording measures a sine with one percent of third harmonic.
func toneRecording(t *testing.T, file string) Recording {
	t.Helper()
	x := make([]float64, 48000)
	for n := range x {
		w := 2 * math.Pi * 1000 * float64(n) / 48000
		x[n] = 0.5*math.Sin(w) + 0.005*math.Sin(3*w)
	}
	report, err := Run(&stream{x}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return Recording{File: file, Format: "test", Report: report}
}

// TestTablePageAndJSONSayTheSame shows one recording in three ways; a hostile
// file name stays text.
func TestTablePageAndJSONSayTheSame(t *testing.T) {
	const evil = "<img src=x>.wav"
	recordings := []Recording{toneRecording(t, evil)}
	var table, page, data bytes.Buffer
	for _, err := range []error{
		WriteTable(&table, recordings), WritePage(&page, recordings), WriteJSON(&data, "test", recordings),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	plain := strings.ReplaceAll(table.String(), "\u00a0", " ")
	if !strings.Contains(plain, "THD re fundamental") || !strings.Contains(plain, "−40.0 dB (1.00 %)") {
		t.Errorf("the table lacks 1 %% of THD:\n%s", plain)
	}
	if html := page.String(); strings.Contains(html, "<img") || !strings.Contains(html, "THD re fundamental") {
		t.Error("the page lets a file name in as markup, or lacks the THD")
	}
	var document struct {
		Recordings []struct {
			Report struct {
				Channels []struct {
					Figures []struct {
						Key   string
						Value float64
					}
				}
			}
		}
	}
	if err := json.Unmarshal(data.Bytes(), &document); err != nil {
		t.Fatal(err)
	}
	for _, f := range document.Recordings[0].Report.Channels[0].Figures {
		if f.Key == "thd_f" && math.Abs(f.Value-0.01) > 1e-6 {
			t.Errorf("JSON has THD %g, want 0.01", f.Value)
		}
	}
}
