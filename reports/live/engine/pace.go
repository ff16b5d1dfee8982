package engine

import (
	"fmt"
	"math"
	"time"
)

// The pace is measured with so much of a tone of that frequency at half of the drive, a
// length that leaves the player undisturbed.
const (
	paceSeconds = 0.02
	paceHertz   = 997.0
)

// Pace returns how many seconds of one channel at rate Hz this machine gets through in one
// second when it follows the circuit in time, as the render command does, instead of
// applying its law: under 1 for each channel a page cannot play so.
func (s *Solution) Pace(rate int, drive float64) (float64, error) {
	high := float64(rate * oversample)
	follower, err := s.biased.Fork().Dynamic(high)
	if err != nil {
		return 0, fmt.Errorf("in time: %w", err)
	}
	in := make([]float64, int(paceSeconds*high)/4*4)
	for i := range in {
		in[i] = drive / 2 * math.Sin(2*math.Pi*paceHertz*float64(i)/high)
	}
	began := time.Now()
	if err := follower.Process(in, in); err != nil {
		return 0, fmt.Errorf("in time: %w", err)
	}
	return paceSeconds / max(time.Since(began).Seconds(), 1e-6), nil
}
