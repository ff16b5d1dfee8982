package engine

import "fmt"

// What a player tells of itself. It plays in a thread of its own, which must never wait, so
// a [Scope] in another one looks at the sound: each block that went through goes there as
// [Passed], and what else the figures need, at the time of a look, as [Told]. Both count the
// player's frames, by which the looks keep in step with the sound however late they come.

// Passed is a block that went through a player. Its samples are the player's own and hold
// until it plays the next block.
type Passed struct {
	From      int64       // frames that went through before it
	Rate      int         // Hz
	Reach     float64     // of the law, V
	Reference [][]float64 // the input of each channel in step with the output, V
	Out       []float64   // of the first channel, V
}

// Append appends a block to x as [PassedOf] reads it: its three numbers, how many channels
// it has, and then the reference of each and the output.
func (b Passed) Append(x []float64) []float64 {
	x = append(x, float64(b.From), float64(b.Rate), b.Reach, float64(len(b.Reference)))
	for _, channel := range b.Reference {
		x = append(x, channel...)
	}
	return append(x, b.Out...)
}

// PassedOf returns the block that [Passed.Append] made into x, which it keeps.
func PassedOf(x []float64) (Passed, error) {
	const numbers = 4
	if len(x) < numbers {
		return Passed{}, fmt.Errorf("a block that passed: %d numbers, legal are at least %d", len(x), numbers)
	}
	b := Passed{From: int64(x[0]), Rate: int(x[1]), Reach: x[2]}
	channels, samples := int(x[3]), x[numbers:]
	if channels < 1 || channels > 2 || len(samples)%(channels+1) != 0 {
		return Passed{}, fmt.Errorf("a block that passed: %d samples do not fit %d channels", len(samples), channels)
	}
	n := len(samples) / (channels + 1)
	for c := range channels {
		b.Reference = append(b.Reference, samples[c*n:(c+1)*n])
	}
	b.Out = samples[channels*n:]
	return b, nil
}

// Passed returns the last block, n frames as [Player.Play] was asked for.
func (p *Player) Passed(n int) Passed {
	_, reach := p.way.target().Range()
	b := Passed{From: p.through - int64(n), Rate: p.rate, Reach: reach, Out: p.way.out(0, n)}
	for c := range p.audio {
		b.Reference = append(b.Reference, p.way.reference(c, n))
	}
	return b
}

// Told is how far a player is and what it applies.
type Told struct {
	Through  int64    `json:"through"`  // frames that went through
	Rate     int      `json:"rate"`     // Hz
	Drive    float64  `json:"drive"`    // V peak
	Position float64  `json:"position"` // in the source, s
	Ended    bool     `json:"ended"`
	Match    float64  `json:"match"`    // gain applied, V/V
	Fitted   float64  `json:"fitted"`   // of the stage, V/V
	Limited  float64  `json:"limited"`  // least gain of the limiter since it was told last
	Followed Followed `json:"followed"` // whether the circuit plays in time
}

// Tell tells it.
func (p *Player) Tell() Told {
	return Told{
		Through: p.through, Rate: p.rate, Drive: p.drive, Position: p.Position(), Ended: p.Ended(),
		Match: p.match.value, Fitted: p.balance.gains().fitted, Limited: p.limiter.reduction(), Followed: p.follow.tell(),
	}
}
