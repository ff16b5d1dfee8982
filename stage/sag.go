package stage

import (
	"errors"
	"math"
	"slices"
	"strings"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// A supply with a reservoir gives the mean current of what is played: its voltage is
// steady within a cycle of the tone and lower the more is asked for. At midband the
// reservoir holds what it has at rest, so that what a steady signal takes from the rails
// is found here: the rails are lowered by the supply's effective resistance times the
// mean current and the stage is solved on ideal rails of that voltage, in turn, until the
// two agree. A supply with a resistance alone sags at once and needs none of that.

// RailUnder is one rail under a signal.
type RailUnder struct {
	Name     string
	Unloaded float64 // V against ground
	Mean     float64 // V under the signal
	Current  float64 // mean, A
	Ripple   float64 // of the mains, peak to peak, V, by its closed form
}

// sags reports whether the rails follow the mean current of a signal.
func (b *Biased) sags() bool {
	s := &b.made.parts.PowerSupply
	return s.Fitted && s.Farads > 0
}

const (
	sagRounds   = 60
	plainRounds = 12 // before steps are halved
	sagVolts    = 1e-5
	leastRail   = 0.05 // of the unloaded voltage: a supply that sags further cannot feed the stage
)

var errSags = errors.New("the supply sags to nothing under this signal: power_supply.resistance is too high for what the stage draws")

// Sagged returns the stage on ideal rails of the voltages that its supply has under a
// signal, and those rails. Without a power supply of its own it is the stage as it is.
func (b *Biased) Sagged(signal Signal) (*Biased, []RailUnder, error) {
	return b.sagged(signal.coarse())
}

func (b *Biased) sagged(profile Profile) (*Biased, []RailUnder, error) {
	supply := b.made.parts.PowerSupply
	rails := make([]RailUnder, len(b.net.Supplies))
	for i, src := range b.net.Supplies {
		volts := b.solver.Value(src)
		rails[i] = RailUnder{Name: b.railName(src), Unloaded: volts, Mean: volts}
	}
	on, ohms := b, supply.Effective()
	for round := range sagRounds {
		currents, err := on.meanCurrents(profile)
		if err != nil {
			return nil, nil, err
		}
		moved := 0.0
		for i := range rails {
			r := &rails[i]
			r.Current, r.Ripple = currents[i], supply.Ripple(math.Abs(currents[i]))
			next := r.Unloaded - ohms*r.Current
			moved = max(moved, math.Abs(next-r.Mean))
			if round < plainRounds {
				r.Mean = next
			} else {
				r.Mean += (next - r.Mean) / 2
			}
			if r.Mean/r.Unloaded < leastRail {
				return nil, nil, errSags
			}
		}
		if !b.sags() || moved < sagVolts && round > 0 {
			return on, rails, nil
		}
		if on, err = b.onRails(rails); err != nil {
			return nil, nil, err
		}
	}
	return on, rails, nil
}

// onRails returns the stage on ideal rails.
func (b *Biased) onRails(rails []RailUnder) (*Biased, error) {
	m := b.made
	m.parts.PowerSupply.Fitted = false
	m.parts.Supply.Positive = rails[0].Mean
	if len(rails) > 1 {
		m.parts.Supply.Negative = -rails[1].Mean
	}
	on, err := b.stage.restAt(b.setting, m)
	if err == nil {
		on.clipping = b.clipping
	}
	return on, err
}

// meanCurrents returns the mean current of each supply over a profile, A.
func (b *Biased) meanCurrents(profile Profile) ([]float64, error) {
	sums := make([]float64, len(b.net.Supplies))
	for _, share := range profile {
		if _, _, err := b.Transfer(share.Volts); err != nil {
			return nil, err
		}
		for i, src := range b.net.Supplies {
			sums[i] += b.solver.Current(src) * share.Part
		}
	}
	return sums, nil
}

// onSag works a power out on the rails that a profile leaves, and adds what the supply
// itself turns into heat.
func (b *Biased) onSag(profile Profile, work func(*Biased) (Power, error)) (Power, error) {
	on, rails, err := b.sagged(profile)
	if err != nil {
		return Power{}, err
	}
	p, err := work(on)
	for _, r := range rails {
		p.Supply += (r.Unloaded - r.Mean) * r.Current
	}
	if p.Supply > 0 {
		p.Efficiency = p.Load / p.Supply
	}
	return p, err
}

// Hum is what the mains' ripple does with no signal.
type Hum struct {
	Rails  []float64 // ripple of each rail, peak to peak, V
	Output float64   // at the loudspeaker terminal, peak to peak, V
	RMS    float64   // there, V
	// Lines are the amplitudes of the multiples of twice the mains frequency there, V.
	Lines []float64
}

const (
	humRate   = 192e3 // samples a second
	humSettle = 0.3   // s, and so many time constants of the reservoirs:
	humTimes  = 8
	humCycles = 10 // of twice the mains, that are looked at
	humLines  = 10
)

// Hum moves the stage through some cycles of the mains with no signal. Without ripple all
// of it is 0.
func (b *Biased) Hum() (Hum, error) {
	h := Hum{Rails: make([]float64, len(b.net.Supplies)), Lines: make([]float64, humLines)}
	supply := b.made.parts.PowerSupply
	if !supply.Ripples() {
		return h, nil
	}
	d, err := b.Dynamic(humRate)
	if err != nil {
		return h, err
	}
	settle := humSettle + humTimes*supply.Ohms*supply.Farads
	if err := d.silence(int(settle*humRate), nil); err != nil {
		return h, err
	}
	rails := d.biased.railNodes()
	lo, hi := slices.Repeat([]float64{math.Inf(1)}, len(rails)), slices.Repeat([]float64{math.Inf(-1)}, len(rails))
	var wave []float64
	err = d.silence(int(math.Round(humCycles*humRate/(2*supply.Mains))), func(out []float64) {
		wave = append(wave, out...)
		for i, node := range rails {
			v := d.transient.Solver().Voltage(node)
			lo[i], hi[i] = min(lo[i], v), max(hi[i], v)
		}
	})
	if err != nil {
		return h, err
	}
	for i := range rails {
		h.Rails[i] = hi[i] - lo[i]
	}
	h.read(wave, 2*supply.Mains/humRate)
	return h, nil
}

// silence moves the stage through samples of no signal, a step at a time.
func (d *Dynamic) silence(samples int, note func(out []float64)) error {
	var buffer [StepSamples]float64
	for range samples / StepSamples {
		clear(buffer[:])
		if err := d.Process(buffer[:], buffer[:]); err != nil {
			return err
		}
		if note != nil {
			note(buffer[:])
		}
	}
	return nil
}

// railNodes are the nodes behind the supplies' resistances, in the order of supplies.
func (b *Biased) railNodes() []network.Node {
	var list []network.Node
	for _, src := range b.net.Supplies {
		list = append(list, b.net.Circuit.Node(b.railName(src)))
	}
	return list
}

// railName is the name of the node that a supply feeds.
func (b *Biased) railName(src network.Source) string {
	return strings.TrimPrefix(b.net.Circuit.SourceName(src), circuits.Unloaded)
}

// read takes the figures from samples of the output; cycles is the part of a cycle of
// twice the mains that a sample lasts.
func (h *Hum) read(wave []float64, cycles float64) {
	mean := 0.0
	for _, v := range wave {
		mean += v / float64(len(wave))
	}
	square := 0.0
	for _, v := range wave {
		square += (v - mean) * (v - mean) / float64(len(wave))
	}
	h.Output, h.RMS = slices.Max(wave)-slices.Min(wave), math.Sqrt(square)
	for k := range h.Lines {
		re, im := 0.0, 0.0
		for i, v := range wave {
			sin, cos := math.Sincos(2 * math.Pi * float64(k+1) * cycles * float64(i))
			re += (v - mean) * cos * 2 / float64(len(wave))
			im += (v - mean) * sin * 2 / float64(len(wave))
		}
		h.Lines[k] = math.Hypot(re, im)
	}
}
