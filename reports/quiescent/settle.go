package quiescent

import (
	"math"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/heat"
)

// Thermal is where a stage comes to rest thermally, in air of one temperature and
// with one kind of signal.
type Thermal struct {
	// Runaway tells that there is no such rest within 200 K of the maximum
	// junction temperature; the other fields then hold how far it had come.
	Runaway bool `json:"runaway"`
	// Junction is the hottest output junction and Sink the sink, K.
	Junction float64 `json:"junction_k"`
	Sink     float64 `json:"sink_k"`
	// Quiescent is the quiescent current at these temperatures, A.
	Quiescent float64 `json:"quiescent_a"`
	// Heat is the mean power in all devices, Supply that from all supplies, W.
	Heat   float64 `json:"heat_w"`
	Supply float64 `json:"supply_w"`
}

const (
	settleSteps   = 300
	settleKelvin  = 0.02  // the part of a temperature that may be left to settle
	beyondLimit   = 200.0 // kelvins over the limit at which it is given up
	minimumChange = 1e-6  // K; a change below it tells nothing of the ratio
)

// A settling is a stage on its way to steady temperatures, from cold.
type settling struct {
	bias    *bias
	ambient float64
	limit   float64 // maximum junction temperature, K
	signal  profile

	temperatures circuits.Temperatures
	sink         float64
	biased       *stage.Biased
	powers       powers
}

// settle follows the heating up of a stage in air of a temperature, until its
// temperatures hold themselves.
func settle(b *bias, ambient, limit float64, signal profile) (*settling, Thermal, error) {
	s := &settling{bias: b, ambient: ambient, limit: limit, signal: signal, temperatures: circuits.Uniform(ambient), sink: ambient}
	last := 0.0
	for range settleSteps {
		change, err := s.step()
		if err != nil {
			return s, Thermal{}, err
		}
		if s.hottest() > limit+beyondLimit {
			break
		}
		loop := change / last
		if change < minimumChange || last > 0 && loop < 1 && change*loop/(1-loop) < settleKelvin {
			return s, s.rest(), nil
		}
		last = change
	}
	t := s.rest()
	t.Runaway = true
	return s, t, nil
}

// step moves the temperatures to those that the present powers keep up and
// returns the maximum change, K.
func (s *settling) step() (float64, error) {
	var err error
	if s.biased, err = s.bias.at(s.temperatures); err != nil {
		return 0, err
	}
	if s.powers, err = mean(s.biased, s.signal); err != nil {
		return 0, err
	}
	next := s.heated(s.powers.outputs)
	t := s.temperatures
	change := max(math.Abs(next.Upper-t.Upper), math.Abs(next.Lower-t.Lower), math.Abs(next.Bias-t.Bias))
	s.temperatures = next
	return change, nil
}

// heated returns the temperatures that powers of the output devices keep up.
func (s *settling) heated(powers []float64) circuits.Temperatures {
	th := s.bias.stage.Spec().Thermal
	chain := heat.Chain{
		Ambient: s.ambient, JunctionToCase: th.JunctionToCase, CaseToSink: th.CaseToSink, SinkToAir: th.SinkToAir,
	}
	steady := chain.Steady(powers...)
	s.sink = steady.Sink
	next := s.temperatures
	next.Upper = steady.Junctions[0]
	next.Lower = steady.Junctions[len(powers)-1]
	next.Bias = s.ambient + th.Coupling*(steady.Sink-s.ambient)
	return next
}

func (s *settling) hottest() float64 { return max(s.temperatures.Upper, s.temperatures.Lower) }

// rest describes the stage at the present temperatures.
func (s *settling) rest() Thermal {
	return Thermal{
		Junction: s.hottest(), Sink: s.sink, Quiescent: s.biased.Point().Quiescent,
		Heat: s.powers.devices, Supply: s.powers.supply,
	}
}
