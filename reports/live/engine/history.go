package engine

import "quietcross/dsp/shape"

// A player plays ahead of what is heard, so that nothing that holds it up is heard, and yet a
// change is to be heard at once. So it goes back and plays again, changed, what was played
// ahead. For that it keeps, of each block, what its input does not tell, and the input itself,
// from which the filters' states are made again.

// rewindSeconds is how far back a player goes at most, s.
const rewindSeconds = 0.4

// A history is what a player keeps to go back.
type history struct {
	moments []*moment // before each of the last blocks, the oldest first
	spare   []*moment
	frames  int64       // that it reaches back
	in      [][]float64 // stage input of each channel, V, rings
}

// A moment is a player before a block.
type moment struct {
	position int
	through  int64
	known    float64
	told     *shape.Law
	ramps    []ramp
	way      point
	balance  *balance
	limiter  *limiter
}

// newHistory keeps the history of a player from now on.
func newHistory(p *Player) history {
	h := history{frames: int64(p.frames(rewindSeconds))}
	for range p.audio {
		h.in = append(h.in, make([]float64, int(h.frames)+past+MaximumBlock))
	}
	return h
}

// ramps lists all that a player has.
func (p *Player) ramps() []*ramp {
	return []*ramp{&p.gate, &p.mute, &p.level, &p.up, &p.makeUp, &p.output, &p.ref, &p.residual, &p.match, &p.fitted}
}

// forget forgets all moments: what comes after does not go on from there.
func (h *history) forget() {
	h.spare, h.moments = append(h.spare, h.moments...), h.moments[:0]
}

// mark keeps the present moment, and no more than are needed of those before; none of what
// comes in, which cannot be had again.
func (h *history) mark(p *Player) {
	if p.ear != nil {
		return
	}
	for len(h.moments) > 0 && h.moments[0].through < p.through-h.frames {
		h.spare, h.moments = append(h.spare, h.moments[0]), append(h.moments[:0], h.moments[1:]...)
	}
	m := h.blank(p)
	m.position, m.through, m.known, m.told, m.way = p.position, p.through, p.known, p.told, p.way.point()
	m.ramps = m.ramps[:0]
	for _, r := range p.ramps() {
		m.ramps = append(m.ramps, *r)
	}
	m.balance.resume(p.balance)
	m.limiter.resume(p.limiter)
	h.moments = append(h.moments, m)
}

// blank returns a moment to be filled in.
func (h *history) blank(p *Player) *moment {
	if last := len(h.spare) - 1; last >= 0 {
		m := h.spare[last]
		h.spare = h.spare[:last]
		return m
	}
	return &moment{balance: &balance{filters: newFilters(float64(p.rate), len(p.audio))}, limiter: newLimiter(len(p.audio), look)}
}

// note keeps a block of input that begins at a frame.
func (h *history) note(in [][]float64, from int64) {
	for c, ring := range h.in {
		for i, v := range in[c] {
			ring[(from+int64(i))%int64(len(ring))] = v
		}
	}
}

// before returns the past frames of input that end at a frame; it was silent before the first.
func (h *history) before(frame int64) [][]float64 {
	list := make([][]float64, len(h.in))
	for c, ring := range h.in {
		list[c] = make([]float64, past)
		for i := range list[c] {
			if at := frame - past + int64(i); at >= 0 {
				list[c][i] = ring[at%int64(len(ring))]
			}
		}
	}
	return list
}

// Rewind goes back by up to so many frames, to where a block began, and returns by how many;
// what was played from there on is to be played again, and is so with the controls and the
// law that are set now or before that. It returns 0 where there is no going back: of what
// comes in, across a jump, or while a circuit plays in time.
func (p *Player) Rewind(frames int) int {
	h := &p.history
	if p.jump != nil || p.leaving != nil || p.follow != nil && p.follow.state != FollowComing {
		return 0
	}
	first := len(h.moments)
	for first > 0 && h.moments[first-1].through >= p.through-int64(frames) {
		first--
	}
	if first == len(h.moments) {
		return 0
	}
	went := int(p.through - h.moments[first].through)
	p.resume(h.moments[first])
	h.spare, h.moments = append(h.spare, h.moments[first:]...), h.moments[:first]
	return went
}

// resume puts the player where it was at a moment, but for its controls.
func (p *Player) resume(m *moment) {
	p.position, p.through, p.known, p.told = m.position, m.through, m.known, m.told
	for i, r := range p.ramps() {
		*r = m.ramps[i]
	}
	p.balance.resume(m.balance)
	p.limiter.resume(m.limiter)
	p.way.resume(m.way, p.history.before(m.through))
	if p.follow != nil {
		p.follow.skip()
	}
	p.steer()
}
