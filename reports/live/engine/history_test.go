package engine

import (
	"math"
	"slices"
	"testing"

	"quietcross/dsp/shape"
)

// played plays blocks of 256 frames and appends what is heard.
func played(p *Player, heard [][]float32, blocks int) [][]float32 {
	for range blocks {
		block := [][]float32{make([]float32, 256), make([]float32, 256)}
		p.Play(block)
		for c := range heard {
			heard[c] = append(heard[c], block[c]...)
		}
	}
	return heard
}

// TestRewind: what a player that was told of a change too late plays again is, to the bit,
// what one plays that was told in time; whatever was set, in the middle of fades, over the
// end of a loop, and through the limiter.
func TestRewind(t *testing.T) {
	var laws []*shape.Law
	var drive float64
	for _, amperes := range []float64{0.001, 0.02, 0.1} {
		s, sheet := solve(t, "pair-12w", "quiescent", amperes, 6, true)
		laws, drive = append(laws, s.Law), sheet.Drive
	}
	usual := Controls{Monitor: Output, Match: true, Loop: true}
	known := Controls{Monitor: Output, Match: true, Gain: 0.9, Loop: true}
	loud := Controls{Level: 6, Monitor: Output, Loop: true}
	residual := Controls{Level: -10, TurnUp: true, Monitor: Residual, MakeUp: 20, Loop: true}
	paused := Controls{Monitor: Output, Match: true, Loop: true, Paused: true}
	another := func(p *Player) error { p.SetLaw(laws[2]); return nil }
	cases := []struct {
		name   string
		begins Controls
		early  func(p *Player) error // before it goes back
		change func(p *Player) error
	}{
		{"a law", usual, nil, another},
		{"a law, the gain known", known, nil, another},
		{"a law, loud", loud, nil, another},
		{"a law, of the residual", residual, nil, another},
		{"a law after another side", usual, func(p *Player) error { return p.Set(residual) }, another},
		{"nothing after another side", usual, func(p *Player) error { return p.Set(residual) }, func(*Player) error { return nil }},
		{"another side", usual, nil, func(p *Player) error { return p.Set(residual) }},
		{"a pause", usual, nil, func(p *Player) error { return p.Set(paused) }},
		{"a place", usual, nil, func(p *Player) error { p.Seek(0.1); return nil }},
	}
	audio := music(48000, 0.9)
	for c := range audio {
		audio[c] = audio[c][12000:24000] // of 46.9 blocks
	}
	for _, c := range cases {
		player := func() *Player {
			p, err := NewPlayer(audio, 48000, laws[0], drive, c.begins)
			if err != nil {
				t.Fatal(err)
			}
			p.SetLaw(laws[1]) // a fade under way, and a law that waits for it
			p.SetLaw(laws[0])
			return p
		}
		for _, before := range []int{0, 1, 2, 5, 45, 46} { // blocks
			for _, late := range []int{1, 7} {
				a, b := player(), player()
				heardA, heardB := played(a, make([][]float32, 2), before), played(b, make([][]float32, 2), before)
				played(b, make([][]float32, 2), late)
				if c.early != nil && (c.early(a) != nil || c.early(b) != nil) {
					t.Fatalf("%s: refused", c.name)
				}
				if went := b.Rewind(256 * late); went != 256*late {
					t.Fatalf("%s, %d blocks: went back by %d frames of %d", c.name, before, went, 256*late)
				}
				if c.change(a) != nil || c.change(b) != nil {
					t.Fatalf("%s: refused", c.name)
				}
				heardA, heardB = played(a, heardA, 12), played(b, heardB, 12)
				for channel := range heardA {
					if !slices.Equal(heardA[channel], heardB[channel]) {
						t.Errorf("%s, %d blocks before it, told %d late: differs from frame %d on", c.name, before, late, firstApart(heardA[channel], heardB[channel]))
					}
				}
				if a.Tell().Through != b.Tell().Through || a.Position() != b.Position() {
					t.Errorf("%s: at %g and %g s", c.name, a.Position(), b.Position())
				}
			}
		}
	}
}

func firstApart(a, b []float32) int {
	for i := range a {
		if a[i] != b[i] {
			return i
		}
	}
	return -1
}

// TestRewindKeeps: there is no going back across a jump or further than a player keeps, and a
// jump that was made is not undone.
func TestRewindKeeps(t *testing.T) {
	s, sheet := solve(t, "pair-12w", "quiescent", 0.02, 0, true)
	p, err := NewPlayer(music(8000, 0.5), 8000, s.Law, sheet.Drive, Controls{Monitor: Output, Loop: true})
	if err != nil {
		t.Fatal(err)
	}
	played(p, make([][]float32, 2), 40)
	if went := p.Rewind(math.MaxInt32); float64(went) < rewindSeconds*8000 || float64(went) > rewindSeconds*8000+512 {
		t.Errorf("went back by %d frames, want %g", went, rewindSeconds*8000)
	}
	if went := p.Rewind(255); went != 0 {
		t.Errorf("went back by %d frames where no block begins", went)
	}
	played(p, make([][]float32, 2), 4)
	p.Seek(1)
	if went := p.Rewind(256); went != 0 {
		t.Errorf("went back by %d frames with a jump to come", went)
	}
	played(p, make([][]float32, 2), 3)
	if went := p.Rewind(10 * 256); went > 2*256 || p.Position() < 1 {
		t.Errorf("went back by %d frames, to %g s, across a jump to 1 s", went, p.Position())
	}
}
