package engine

import (
	"fmt"
	"math"
	"time"

	"quietcross/corpus/intime"
	"quietcross/dsp/level"
	"quietcross/dsp/resample"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// A following is a circuit with memory in time, beside the law of its middle frequencies.
// It is made in pieces between the blocks that play, then goes through what has been played
// since, from its state at rest, in the time that the sound leaves it. When it has caught
// up, has settled and has shown that it is faster than the sound by a margin, it is faded in
// over the law; when the bias moves it is faded out again, and the law of the new bias is
// heard at once. One that does not keep up is given up, and tells its pace.
type following struct {
	circuit  Circuit
	rate     int
	channels int
	level    level.DB
	state    FollowState
	why      error
	demand   demand

	biased *stage.Biased
	ideal  *intime.Ideal
	lanes  []*followed
	queue  [][]float64 // stage input not gone through yet, V
	edge   ramp        // of the input, up after a jump
	age    int         // frames gone through since it was at rest or jumped
	share  ramp        // in what is heard

	through int           // frames, of which the newer count more
	worked  time.Duration // that these took
	spent   time.Duration // in all, to catch up
}

// FollowState is how far a stage in time has come.
type FollowState string

// The states of a following.
const (
	FollowNone    FollowState = ""        // the law plays, and nothing else is tried
	FollowComing  FollowState = "coming"  // the law plays, the circuit is on its way
	FollowPlaying FollowState = "playing" // the circuit plays in time
	FollowSlow    FollowState = "slow"    // the law plays: this machine does not keep up
	FollowFailed  FollowState = "failed"  // the law plays: the circuit cannot be followed
)

// Followed is what a view tells of it.
type Followed struct {
	State FollowState `json:"state"`
	Pace  float64     `json:"pace"` // times as fast as the sound, all channels and the reference; 0: not known yet
	Why   string      `json:"why,omitempty"`
}

// demand is how fast a stage in time must be, in times as fast as the sound, to be taken
// and to be kept, and after how many seconds of work it is given up.
type demand struct{ take, keep, spent float64 }

// usual is what is demanded where the sound must go on; none where it waits.
var (
	usual = demand{take: 1.5, keep: 1.1, spent: 8}
	none  = demand{spent: math.Inf(1)}
)

const (
	followSettle = 0.5 // s of input until the states have settled
	followQueue  = 1.5 // s behind the sound at which what was missed is left out
	followMemory = 0.3 // s of which the pace is taken
	followChunk  = 64  // frames
)

// followed is one channel.
type followed struct {
	up           *resample.Up
	high         []float64
	stage, ideal *intime.Channel
	out, ref     []float64
	late         [2]delay // of out and ref, to be in step with the law
}

// delay delays by its length.
type delay struct {
	ring []float64
	at   int
}

func (d *delay) process(x []float64) {
	if len(d.ring) == 0 {
		return
	}
	for i, v := range x {
		x[i], d.ring[d.at] = d.ring[d.at], v
		d.at = (d.at + 1) % len(d.ring)
	}
}

// lead is how many frames earlier than the law's way the way in time is.
func lead() int { return shape.Latency(oversample) - intime.Latency(intime.Oversample) }

// prepare makes the next piece, of a few milliseconds, and reports whether all are made.
func (f *following) prepare() (done bool, err error) {
	switch last := len(f.lanes) - 1; {
	case f.biased == nil:
		f.biased, err = f.circuit.Stage.set()
	case f.ideal == nil:
		var linear *stage.Biased
		if linear, err = f.circuit.Ideal.set(); err == nil {
			f.ideal, err = intime.IdealOf(linear)
		}
	case last >= 0 && f.lanes[last].ideal == nil:
		f.lanes[last].ideal, err = f.ideal.Channel(f.rate, intime.Oversample, MaximumBlock, f.level)
	case last < f.channels-1:
		l := &followed{
			up: intime.Source(intime.Oversample), high: make([]float64, MaximumBlock*intime.Oversample),
			out: make([]float64, MaximumBlock), ref: make([]float64, MaximumBlock),
		}
		for i := range l.late {
			l.late[i].ring = make([]float64, lead())
		}
		l.stage, err = intime.New(f.biased, f.rate, intime.Oversample, MaximumBlock)
		f.lanes, f.queue = append(f.lanes, l), append(f.queue, nil)
	default:
		return true, nil
	}
	return false, err
}

// pass moves all channels through a block of stage input, V.
func (f *following) pass(in [][]float64) error {
	began, n := time.Now(), len(in[0])
	for c, l := range f.lanes {
		high := l.high[:n*intime.Oversample]
		l.up.Process(high, in[c])
		if err := l.stage.Process(l.out[:n], high); err != nil {
			return err
		}
		if err := l.ideal.Process(l.ref[:n], high); err != nil {
			return err
		}
		l.late[0].process(l.out[:n])
		l.late[1].process(l.ref[:n])
	}
	f.age += n
	f.through += n
	f.worked += time.Since(began)
	if float64(f.through) > followMemory*float64(f.rate) {
		f.through, f.worked = f.through/2, f.worked/2
	}
	return nil
}

// pace returns how many times as fast as the sound it lately was, 0 where too little went
// through to say.
func (f *following) pace() float64 {
	if float64(f.through) < followMemory/4*float64(f.rate) {
		return 0
	}
	return float64(f.through) / float64(f.rate) / max(f.worked.Seconds(), 1e-6)
}

// take takes a block of stage input: it goes through at once where the circuit plays, and
// else is put by.
func (f *following) take(in [][]float64) {
	switch {
	case f.state == FollowPlaying || f.heard():
		if err := f.pass(in); err != nil {
			f.fail(err)
		} else if f.state == FollowPlaying && f.pace() != 0 && f.pace() < f.demand.keep {
			f.state = FollowSlow
			f.share.to(0, int(lawSeconds*float64(f.rate)))
		}
	case f.state == FollowComing && len(f.lanes) == f.channels:
		for c := range f.queue {
			f.queue[c] = append(f.queue[c], in[c]...)
		}
		if float64(len(f.queue[0])) > followQueue*float64(f.rate) {
			f.skip()
		}
	}
}

// skip leaves out what was put by; what comes next begins softly.
func (f *following) skip() {
	for c := range f.queue {
		f.queue[c] = f.queue[c][:0]
	}
	f.age, f.edge = 0, newRamp(0)
	f.edge.to(1, int(lawSeconds*float64(f.rate)))
}

func (f *following) fail(err error) {
	f.state, f.why, f.share = FollowFailed, err, newRamp(0)
}

// work goes on with what is not done, for about so many seconds, and reports whether
// there is more to do.
func (f *following) work(seconds float64) (more bool) {
	for began := time.Now(); f.state == FollowComing && time.Since(began).Seconds() < seconds; {
		from := time.Now()
		done, err := f.prepare()
		if err == nil && done {
			err = f.catchUp()
		}
		if err != nil {
			f.fail(err)
		}
		if f.spent += time.Since(from); f.spent.Seconds() > f.demand.spent {
			f.state = FollowSlow
		}
		if done && len(f.queue[0]) == 0 {
			return false
		}
	}
	return f.state == FollowComing
}

// catchUp goes through a part of what was put by.
func (f *following) catchUp() error {
	n := min(followChunk, len(f.queue[0]))
	if n > 0 {
		block := make([][]float64, f.channels)
		for c, x := range f.queue {
			block[c] = x[:n]
		}
		for i := range n {
			g := f.edge.next()
			for c := range block {
				block[c][i] *= g
			}
		}
		if err := f.pass(block); err != nil {
			return err
		}
		for c, x := range f.queue {
			f.queue[c] = append(x[:0], x[n:]...)
		}
	}
	if len(f.queue[0]) == 0 && float64(f.age) > followSettle*float64(f.rate) && f.pace() >= f.demand.take {
		f.state = FollowPlaying
		f.share.to(1, int(lawSeconds*float64(f.rate)))
	}
	return nil
}

// heard reports whether the circuit has a share in what is heard.
func (f *following) heard() bool { return !f.share.still() || f.share.value != 0 }

// mix fades the circuit in over the law's output and reference, n frames.
func (f *following) mix(w *way, n int) {
	if !f.heard() {
		return
	}
	for i := range n {
		s := f.share.next()
		for c, l := range f.lanes {
			out, ref := w.out(c, n), w.reference(c, n)
			out[i] += s * (l.out[i] - out[i])
			ref[i] += s * (l.ref[i] - ref[i])
		}
	}
}

// tell returns what a view shows.
func (f *following) tell() Followed {
	if f == nil {
		return Followed{}
	}
	told := Followed{State: f.state, Pace: f.pace()}
	if f.why != nil {
		told.Why = fmt.Sprint(f.why)
	}
	return told
}

// Follow has the player follow a circuit in time, from its law, as soon as it can.
func (p *Player) Follow(c Circuit) { p.follow = p.following(c) }

func (p *Player) following(c Circuit) *following {
	return &following{circuit: c, rate: p.rate, channels: len(p.audio), level: p.controls.Level, state: FollowComing, edge: newRamp(1), demand: usual}
}

// FollowWhole has the player follow a circuit from its first sample on, however long it
// takes; nothing may have been played.
func (p *Player) FollowWhole(c Circuit) error {
	f := p.following(c)
	for {
		done, err := f.prepare()
		if err != nil {
			return fmt.Errorf("in time: %w", err)
		}
		if done {
			break
		}
	}
	f.demand, f.state, f.share = none, FollowPlaying, newRamp(1)
	p.follow = f
	return nil
}

// metered takes powers from the first channel, as the command does, which makes a
// difference of its own in how that is solved: up to -111 dB.
func (f *following) metered() {
	if dynamic, ok := f.lanes[0].stage.Stage(); ok {
		dynamic.OpenMeter()
	}
}

// Work does for about so many seconds what is to be done between two blocks, and reports
// whether there is more.
func (p *Player) Work(seconds float64) (more bool) {
	return p.follow != nil && p.follow.work(seconds)
}

// Coming reports whether a circuit is on its way.
func (p *Player) Coming() bool { return p.follow != nil && p.follow.state == FollowComing }

// leave goes back from the circuit to a law.
func (p *Player) leave() {
	if p.follow == nil {
		return
	}
	if p.follow.state != FollowPlaying {
		p.follow = nil
		return
	}
	p.leaving = p.follow
	p.leaving.demand = none
	p.leaving.share.to(0, p.frames(lawSeconds))
	p.follow = nil
}

// inTime has the circuits in time go through a block, and mixes them in.
func (p *Player) inTime(in [][]float64) {
	for _, f := range []*following{p.leaving, p.follow} {
		if f != nil {
			f.take(in)
			f.mix(p.way, len(in[0]))
		}
	}
	if f := p.leaving; f != nil && f.share.still() {
		p.leaving = nil
	}
}
