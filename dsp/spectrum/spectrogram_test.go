package spectrum

import (
	"math"
	"testing"
)

// A tone that steps up in frequency appears in the right row at the right time,
// however often the columns were merged.
func TestSpectrogramStaysBoundedAndOnTime(t *testing.T) {
	const rate, size, hop, limit = 8000, 256, 64, 32
	g := NewSpectrogram(rate, size, hop, Hann, limit)
	const seconds = 30
	for k := range seconds {
		x := make([]float64, rate)
		hertz := 1000.0
		if k >= 20 {
			hertz = 3000
		}
		for i := range x {
			x[i] = 0.5 * math.Sin(2*math.Pi*hertz*float64(i)/rate)
		}
		g.Add(x)
	}
	m := g.Map()
	if len(m.Times) > limit || len(m.Times) < limit/2 || len(m.Level) != len(m.Times) {
		t.Fatalf("%d columns, %d times, want %d to %d", len(m.Level), len(m.Times), limit/2, limit)
	}
	width := m.Times[1] - m.Times[0]
	for k, at := range m.Times {
		if k > 0 && k < len(m.Times)-1 && math.Abs(m.Times[k]-m.Times[k-1]-width) > 1e-9 {
			t.Errorf("column %d at %v s: uneven", k, at)
		}
		low, high := 1000*size/rate, 3000*size/rate
		if at < 20-width && (math.Abs(float64(m.Level[k][low])+6.02) > 0.01 || m.Level[k][high] > -60) {
			t.Errorf("at %.2f s: %v at 1 kHz, %v at 3 kHz", at, m.Level[k][low], m.Level[k][high])
		}
		if at > 20+width && math.Abs(float64(m.Level[k][high])+6.02) > 0.01 {
			t.Errorf("at %.2f s: %v at 3 kHz", at, m.Level[k][high])
		}
	}
	if last := m.Times[len(m.Times)-1]; last > seconds || last < seconds-width {
		t.Errorf("last column at %v s of %d", last, seconds)
	}
	if got, want := m.Frequencies[32], 1000.0; got != want {
		t.Errorf("row 32 at %v Hz, want %v", got, want)
	}
}

// Merging keeps the mean power: the columns of a merged map average to those of
// an unmerged one.
func TestSpectrogramMergeKeepsPower(t *testing.T) {
	wide := NewSpectrogram(8000, 64, 64, Hann, 64)
	small := NewSpectrogram(8000, 64, 64, Hann, 4)
	x := make([]float64, 64*64)
	for i := range x {
		x[i] = math.Sin(float64(i)*float64(i)/9000) * float64(i) / float64(len(x))
	}
	wide.Add(x)
	small.Add(x)
	for row := range 33 {
		a, b := meanPower(wide.Map(), row), meanPower(small.Map(), row)
		if math.Abs(a-b) > 1e-12 {
			t.Errorf("row %d: %v unmerged, %v merged", row, a, b)
		}
	}
}

func meanPower(m *Map, row int) float64 {
	sum := 0.0
	for _, column := range m.Level {
		sum += column[row].Power()
	}
	return sum / float64(len(m.Level))
}

func TestSpectrogramPanics(t *testing.T) {
	mustPanic(t, func() { NewSpectrogram(8000, 64, 0, Hann, 4) })
	mustPanic(t, func() { NewSpectrogram(8000, 64, 65, Hann, 4) })
	mustPanic(t, func() { NewSpectrogram(8000, 64, 32, Hann, 3) })
	if m := NewSpectrogram(8000, 64, 32, Hann, 4).Map(); len(m.Times) != 0 {
		t.Error("columns of nothing")
	}
}
