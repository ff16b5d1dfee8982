package signal

import "math"

// curve is a line through points of increasing time, drawn by hand: flat before
// the first point and after the last, and smooth (half a cosine) between.
type curve []point

type point struct{ at, value float64 } // seconds, any unit

// value returns the curve at time t in seconds.
func (c curve) value(t float64) float64 {
	if t <= c[0].at {
		return c[0].value
	}
	for i, p := range c[1:] {
		if t < p.at {
			from := c[i]
			return from.value + (p.value-from.value)*raisedCosine((t-from.at)/(p.at-from.at))
		}
	}
	return c[len(c)-1].value
}

// decibels returns 10^(db/20) for a curve drawn in decibels.
func decibels(db float64) float64 { return math.Exp(db * (math.Ln10 / 20)) }

// seconds returns the time of a frame at scoreRate.
func seconds(frame int) float64 { return float64(frame) / scoreRate }

// frame returns the frame at scoreRate nearest to time t.
func frame(t float64) int { return int(math.Round(t * scoreRate)) }
