package lesson

import (
	"encoding/json"
	"math"
	"slices"
	"strconv"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// lawPoints is how many inputs a scene's law is sampled at. They stand at the
// cubes of even steps, close together about 0 where the crossover is.
const lawPoints = 1201

// span is the range of a scene's law over its drive.
const span = 1.02

// volumes are the levels, dB re the drive, at which powers are computed; the page
// goes in straight lines between them.
var volumes = []level.DB{-40, -34, -28, -24, quiet, -16, -13, -10, -8, -6, -5, -4, -3, -2, -1, 0}

// scene is what the moving figures of a page need of one stage at one bias: the
// midband law with the currents of the output devices, and powers.
type scene struct {
	Drive    float64    `json:"drive"` // V peak at the input at level 0
	Gain     float64    `json:"gain"`  // of a straight line through the output at the drive
	Out      samples    `json:"out"`   // V at inputs span·drive·u³, u from -1 to 1
	Currents []samples  `json:"currents"`
	Volumes  []level.DB `json:"volumes"`
	Load     samples    `json:"load"`   // W at each volume
	Supply   samples    `json:"supply"` // W
	Heat     samples    `json:"heat"`   // W in all devices
	biased   *stage.Biased
	powers   []stage.Power
	rest     stage.Power
	thds     []float64 // of tones at toneLevels
}

// samples are written to six digits.
type samples []float64

// MarshalJSON implements json.Marshaler.
func (s samples) MarshalJSON() ([]byte, error) {
	text := []byte{'['}
	for i, v := range s {
		if i > 0 {
			text = append(text, ',')
		}
		text = strconv.AppendFloat(text, v, 'g', 6, 64)
	}
	return append(text, ']'), nil
}

var _ json.Marshaler = samples(nil)

// newScene solves a biased stage over its drive.
func newScene(e *bias.Evaluation, drive float64) (*scene, error) {
	b := e.Biased()
	s := &scene{Drive: drive, Volumes: volumes, biased: b}
	if err := s.sample(); err != nil {
		return nil, err
	}
	var err error
	if s.rest, err = b.Power(0); err != nil {
		return nil, err
	}
	for _, v := range volumes {
		p, err := b.Power(drive * v.Amplitude())
		if err != nil {
			return nil, err
		}
		s.powers = append(s.powers, p)
		s.Load, s.Supply, s.Heat = append(s.Load, p.Load), append(s.Supply, p.Supply), append(s.Heat, p.Dissipation())
	}
	for _, l := range toneLevels {
		tone, err := e.Tone(bias.FigureFrequency, drive*l.Amplitude())
		if err != nil {
			return nil, err
		}
		s.thds = append(s.thds, tone.THD)
	}
	return s, nil
}

// sample fills in the law and the currents.
func (s *scene) sample() error {
	outputs := s.biased.Outputs()
	s.Currents = make([]samples, len(outputs))
	for i := range lawPoints {
		u := -1 + 2*float64(i)/(lawPoints-1)
		in := span * s.Drive * u * u * u
		out, _, err := s.biased.Transfer(in)
		if err != nil {
			return err
		}
		devices, err := s.biased.Devices(in)
		if err != nil {
			return err
		}
		s.Out = append(s.Out, out)
		for k, place := range outputs {
			s.Currents[k] = append(s.Currents[k], devices[place].Current)
		}
	}
	for _, in := range []float64{-s.Drive, s.Drive} {
		out, _, err := s.biased.Transfer(in)
		if err != nil {
			return err
		}
		s.Gain = max(s.Gain, math.Abs(out)/s.Drive)
	}
	return nil
}

// toneLevels are the levels, dB re the drive, whose distortion the text tells.
var toneLevels = []level.DB{0, quiet, hushed}

// thd is the distortion of a tone at one of the toneLevels. It panics on another.
func (s *scene) thd(l level.DB) float64 {
	i := slices.Index(toneLevels, l)
	if i < 0 {
		panic("lesson: no distortion at that level")
	}
	return s.thds[i]
}

// quiescent is the current at rest, A.
func (s *scene) quiescent() float64 { return s.biased.Point().Quiescent }

// at returns the powers at one of the volumes. It panics on another level.
func (s *scene) at(l level.DB) stage.Power {
	i := slices.Index(volumes, l)
	if i < 0 {
		panic("lesson: no powers at that level")
	}
	return s.powers[i]
}

// full is the power figures at the drive.
func (s *scene) full() stage.Power { return s.at(0) }
