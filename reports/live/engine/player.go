package engine

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
)

// Monitor says what is listened to.
type Monitor string

// The three sides of a stage.
const (
	Output    Monitor = "output"
	Reference Monitor = "reference"
	Residual  Monitor = "residual"
)

// Controls are what a page can set while sound runs.
type Controls struct {
	Level   level.DB `json:"level"`   // of the source re the drive
	TurnUp  bool     `json:"turn_up"` // what is played softly is turned up again afterwards
	Monitor Monitor  `json:"monitor"` // what is heard
	MakeUp  level.DB `json:"make_up"` // of the residual
	Match   bool     `json:"match"`   // the output is made as loud as the reference
	Gain    float64  `json:"gain"`    // that does so with the present law, where it is known; 0: followed while it runs
	Told    bool     `json:"told"`    // the gain is that of the present law; else it is so only if it is another than before
	Loop    bool     `json:"loop"`    // the source begins again at its end
	Paused  bool     `json:"paused"`  // nothing is heard
}

// maximumMakeUp is the ceiling of what turns anything up.
const maximumMakeUp level.DB = 60

// Legal levels re the drive.
const (
	minimumLevel level.DB = -60
	maximumLevel level.DB = 6
)

// Check refuses what is not legal.
func (c Controls) Check() error {
	if !(c.Level >= minimumLevel && c.Level <= maximumLevel) {
		return fmt.Errorf("level: found %g dB, legal is %g to %g dB", float64(c.Level), float64(minimumLevel), float64(maximumLevel))
	}
	if !(c.MakeUp >= 0 && c.MakeUp <= maximumMakeUp) {
		return fmt.Errorf("make-up gain: found %g dB, legal is 0 to %g dB", float64(c.MakeUp), float64(maximumMakeUp))
	}
	if gain := math.Abs(c.Gain); !(gain <= maximumMatch.Amplitude()) {
		return fmt.Errorf("matching gain: found %g, legal is up to %g", c.Gain, maximumMatch.Amplitude())
	}
	switch c.Monitor {
	case Output, Reference, Residual:
		return nil
	}
	return fmt.Errorf("monitor: found %q, legal are output, reference and residual", c.Monitor)
}

// The lengths of changes, in seconds: each is short enough to be heard at once, and
// long enough not to click.
const (
	lawSeconds  = 0.020
	gainSeconds = 0.020
	gateSeconds = 0.006
)

// A Player plays a source through a stage, block by block. It is for one goroutine.
type Player struct {
	rate     int
	audio    [][]float32
	position int
	ear      *ear // in place of the audio, nil unless the source is a live one
	controls Controls

	drive   float64
	way     *way
	follow  *following // the circuit in time beside the way, nil where there is none
	leaving *following // one that is faded out
	balance *balance
	known   float64    // matching gain of the law that sounds last, 0: none
	told    *shape.Law // the law that it was told for
	limiter *limiter
	through int64  // frames that went through it
	gate    ramp   // of the source: down to 0 before it jumps
	mute    ramp   // of what is heard, likewise
	jump    func() // waits for both to be down

	level, up, makeUp     ramp
	output, ref, residual ramp
	match, fitted         ramp

	in, out, reference [][]float64
	history            history
}

// NewPlayer returns a player of planar audio at rate Hz through a law, at a drive in
// volts peak. It is paused at the beginning.
func NewPlayer(audio [][]float32, rate int, law *shape.Law, drive float64, c Controls) (*Player, error) {
	if len(audio) < 1 || len(audio) > 2 || len(audio[0]) == 0 {
		return nil, fmt.Errorf("%d channels; legal are 1 and 2, with some sound in them", len(audio))
	}
	if err := c.Check(); err != nil {
		return nil, err
	}
	p := &Player{rate: rate, audio: audio, drive: drive, controls: c, known: c.Gain}
	p.restart(law)
	for _, planes := range []*[][]float64{&p.in, &p.out, &p.reference} {
		for range audio {
			*planes = append(*planes, make([]float64, MaximumBlock))
		}
	}
	p.limiter = newLimiter(len(audio), look)
	p.gate, p.mute = newRamp(p.open()), newRamp(p.open())
	return p, nil
}

// restart makes everything that depends on the stage anew.
func (p *Player) restart(law *shape.Law) {
	p.way = newWay(law, len(p.audio), p.frames(lawSeconds))
	p.follow, p.leaving = nil, nil
	p.history = newHistory(p)
	for _, r := range p.targets() {
		*r.ramp = newRamp(r.target)
	}
	p.balance = newBalance(float64(p.rate), len(p.audio), law, p.drive*p.level.value/4)
	g := p.balance.gains()
	p.match, p.fitted = newRamp(p.matching(g)), newRamp(g.fitted)
}

// matching returns the gain that the output is given.
func (p *Player) matching(g gains) float64 {
	switch {
	case !p.controls.Match:
		return 1
	case p.known != 0:
		return p.known
	}
	return g.match
}

func (p *Player) frames(seconds float64) int { return int(math.Round(seconds * float64(p.rate))) }

// Latency returns how many frames late what is played comes out.
func (p *Player) Latency() int { return p.way.latency + look }

// goal is a ramp and where it should go.
type goal struct {
	ramp   *ramp
	target float64
}

// targets lists what the controls ask of each ramp.
func (p *Player) targets() []goal {
	c := p.controls
	at := reached(p.way.target(), p.drive, c.Level)
	up := level.DB(0)
	if c.TurnUp {
		up = -c.Level
	}
	share := func(m Monitor) float64 {
		if c.Monitor == m {
			return 1
		}
		return 0
	}
	return []goal{
		{&p.level, at},
		{&p.up, up.Amplitude()},
		{&p.makeUp, min(c.MakeUp, maximumMakeUp-up).Amplitude()},
		{&p.output, share(Output)},
		{&p.ref, share(Reference)},
		{&p.residual, share(Residual)},
	}
}

// Set takes new controls over, without a step.
func (p *Player) Set(c Controls) error {
	if err := c.Check(); err != nil {
		return err
	}
	if c.Told || c.Gain != p.controls.Gain {
		p.known, p.told = c.Gain, p.way.target()
	}
	p.controls = c
	p.steer()
	return nil
}

// steer sends every ramp to its target.
func (p *Player) steer() {
	for _, r := range p.targets() {
		r.ramp.to(r.target, p.frames(gainSeconds))
	}
	if p.jump == nil {
		p.swing(p.open())
	}
}

// swing moves gate and mute.
func (p *Player) swing(to float64) {
	p.gate.to(to, p.frames(gateSeconds))
	p.mute.to(to, p.frames(gateSeconds))
}

// open is where the gate stands when nothing waits for it.
func (p *Player) open() float64 {
	if p.controls.Paused {
		return 0
	}
	return 1
}

// SetLaw takes the law of a new bias over; a circuit that is followed in time is left.
func (p *Player) SetLaw(law *shape.Law) {
	p.leave()
	p.way.set(law)
	p.steer()
}

// SetStage takes another stage over: the sound goes down before it and up after it. A
// matching gain that was known is so no longer.
func (p *Player) SetStage(law *shape.Law, drive float64) {
	p.whenDown(func() {
		p.drive, p.known, p.controls.Gain = drive, 0, 0
		p.restart(law)
	})
}

// Seek goes to a place of the source, in seconds; a live one has none.
func (p *Player) Seek(seconds float64) {
	if p.ear != nil {
		return
	}
	p.whenDown(func() {
		p.position = min(max(int(seconds*float64(p.rate)), 0), len(p.audio[0])-1)
	})
}

// whenDown does something once the gate is down, which may be now, and opens it again. What
// waits already is done first.
func (p *Player) whenDown(do func()) {
	if before := p.jump; before != nil {
		p.jump = func() { before(); do() }
		return
	}
	p.jump = do
	p.swing(0)
	p.leap()
}

// leap does what waits for the gate, if that is down.
func (p *Player) leap() {
	if p.jump == nil || !p.mute.still() || p.mute.value != 0 {
		return
	}
	jump := p.jump
	p.jump = nil
	jump()
	p.history.forget()
	p.swing(p.open())
}

// Position returns where the source is, in seconds.
func (p *Player) Position() float64 { return float64(p.position) / float64(p.rate) }

// Ended reports whether the source is at its end.
func (p *Player) Ended() bool { return p.ear == nil && p.position >= len(p.audio[0]) }

// Play puts the next block, of up to [MaximumBlock] frames of every channel, into dst,
// within full scale.
func (p *Player) Play(dst [][]float32) {
	n := len(dst[0])
	p.leap()
	p.history.mark(p)
	in := p.read(n)
	p.history.note(in, p.through)
	if law := p.way.fading(); law != nil && p.balance.fade == nil {
		if amplitude := p.balance.begin(p.way.present.law, law); law != p.told {
			p.know(amplitude)
		}
	}
	share := p.way.process(in)
	p.inTime(in)
	perVolt := 1 / p.drive
	for c := range p.out {
		for i, v := range p.way.out(c, n) {
			p.out[c][i] = v * perVolt
		}
		for i, v := range p.way.reference(c, n) {
			p.reference[c][i] = v * perVolt
		}
	}
	p.through += int64(n)
	p.balance.measure(cut(p.out, n), cut(p.reference, n))
	if p.balance.fade != nil {
		p.balance.move(share)
	}
	p.mix(n)
	p.limiter.process(cut(p.out, n))
	for c := range dst {
		for i := range dst[c] {
			dst[c][i] = float32(p.out[c][i])
		}
	}
}

// know takes a known gain from one law to the next, whose output is so much larger, until
// that of the next is known.
func (p *Player) know(amplitude float64) {
	limit := maximumMatch.Amplitude()
	p.known = min(max(p.known/amplitude, -limit), limit)
}

// cut returns the first n frames of every channel.
func cut(planes [][]float64, n int) [][]float64 {
	short := make([][]float64, len(planes))
	for c := range planes {
		short[c] = planes[c][:n]
	}
	return short
}

// read returns the next n frames of the source as stage input in volts.
func (p *Player) read(n int) [][]float64 {
	for i := range n {
		gain := p.gate.next() * p.level.next() * p.drive
		if p.Ended() && p.controls.Loop {
			p.position = 0
		}
		for c := range p.in {
			p.in[c][i] = p.sample(c) * gain
		}
		p.advance()
	}
	in := cut(p.in, n)
	p.balance.note(in)
	return in
}

// sample returns the source's next sample of a channel.
func (p *Player) sample(channel int) float64 {
	switch {
	case p.ear != nil:
		return p.ear.at(channel)
	case p.Ended():
		return 0
	}
	return float64(p.audio[channel][p.position]) * p.edge()
}

// advance goes on by a frame, where the gate is not down.
func (p *Player) advance() {
	switch {
	case p.ear != nil:
		p.ear.advance()
		p.position++
	case p.gate.value > 0 && !p.Ended():
		p.position++
	}
}

// edge is the gain about the join of a loop, 1 elsewhere.
func (p *Player) edge() float64 {
	if !p.controls.Loop {
		return 1
	}
	from := min(p.position, len(p.audio[0])-1-p.position)
	return min(1, float64(from)/float64(p.frames(gateSeconds)))
}

// matchFrames is how long a change of the matching gain takes: one that is followed goes on
// from block to block, one that is known goes with the law's fade.
func (p *Player) matchFrames(n int) int {
	if p.known != 0 {
		return p.frames(lawSeconds)
	}
	return n
}

// mix puts what is listened to into the output's place.
func (p *Player) mix(n int) {
	g := p.balance.gains()
	p.match.to(p.matching(g), p.matchFrames(n))
	p.fitted.to(g.fitted, n)
	for i := range n {
		up, fitted := p.up.next()*p.mute.next(), p.fitted.next()
		outputGain := p.output.next() * p.match.next() * up
		refGain := p.ref.next() * up
		restGain := p.residual.next() * p.makeUp.next() * up
		for c := range p.out {
			y, r := p.out[c][i], p.reference[c][i]
			p.out[c][i] = outputGain*y + refGain*r + restGain*(y-fitted*r)
		}
	}
}
