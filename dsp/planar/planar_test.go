package planar

import (
	"errors"
	"io"
	"testing"
)

// ramp is a stream of two channels whose samples are their frame and its negative.
// It delivers the last frames together with end, as some readers do, or end alone
// after them.
type ramp struct {
	next, frames int
	end          error
	together     bool
}

func (r *ramp) Read(dst [][]float64) (int, error) {
	n := min(len(dst[0]), r.frames-r.next)
	for i := range n {
		dst[0][i], dst[1][i] = float64(r.next+i), -float64(r.next+i)
	}
	r.next += n
	if n == 0 || r.together && r.next == r.frames {
		return n, r.end
	}
	return n, nil
}

// TestReadAll reads streams around the block's length to their end.
func TestReadAll(t *testing.T) {
	for _, frames := range []int{0, 1, blockFrames - 1, blockFrames, blockFrames + 1, 3*blockFrames + 17} {
		for _, together := range []bool{false, true} {
			all, err := ReadAll(&ramp{frames: frames, end: io.EOF, together: together}, 2)
			if err != nil || len(all) != 2 || all.Frames() != frames || len(all[1]) != frames {
				t.Fatalf("%d frames: %d of %d channels, %v", frames, all.Frames(), len(all), err)
			}
			for i := range frames {
				if all[0][i] != float64(i) || all[1][i] != -float64(i) {
					t.Fatalf("%d frames: frame %d is %g, %g", frames, i, all[0][i], all[1][i])
				}
			}
		}
	}
}

// TestEachStops ends at the first error of the stream and of the user.
func TestEachStops(t *testing.T) {
	broken, enough := errors.New("broken"), errors.New("enough")
	if all, err := ReadAll(&ramp{frames: 5, end: broken}, 2); !errors.Is(err, broken) || all != nil {
		t.Errorf("%v, %v", all, err)
	}
	calls := 0
	err := Each(&ramp{frames: 10 * blockFrames, end: io.EOF}, 2, func(a Audio) error {
		calls++
		if calls == 2 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || calls != 2 {
		t.Errorf("%d calls, %v", calls, err)
	}
}

// TestCut shares memory and does not allocate into a slice that is large enough.
func TestCut(t *testing.T) {
	a := New(2, 10)
	a.Cut(3, 5)[1][0] = 7
	if a[1][3] != 7 || a.Cut(3, 5).Frames() != 2 || Audio(nil).Frames() != 0 {
		t.Errorf("%v", a)
	}
	dst := make(Audio, 2)
	if n := testing.AllocsPerRun(10, func() { dst = a.CutInto(dst, 1, 9) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
