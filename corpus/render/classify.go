package render

import (
	"errors"
	"io"

	"quietcross/corpus/signal"
	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// classifySeconds is how much of a file is looked at to tell a tone from
// programme.
const classifySeconds = 4

// toneResidual is the level re the tone under which the rest must lie for a file
// to count as a tone.
const toneResidual level.DB = -50

// classify tells what kind of signal a stream begins with, and its tones.
func classify(s Stream) (kind string, tones []float64, err error) {
	x, err := beginning(s)
	if err != nil {
		return "", nil, err
	}
	if level.Peak(x) == 0 {
		return signal.Silence.String(), nil, nil
	}
	tone, err := distortion.Harmonics(x, float64(s.Format().Rate))
	if err != nil {
		return signal.Programme.String(), nil, nil // too short or no steady tone
	}
	rest := level.FromAmplitude(level.RMS(tone.Residual) / level.RMS(x))
	if rest > toneResidual {
		return signal.Programme.String(), nil, nil
	}
	return signal.SingleTone.String(), []float64{tone.Frequency}, nil
}

// beginning reads the first seconds of a stream's loudest channel.
func beginning(s Stream) ([]float64, error) {
	format := s.Format()
	audio := planes(format.Channels, int(min(int64(classifySeconds*format.Rate), s.Frames())))
	n := 0
	for n < len(audio[0]) {
		got, err := s.Read(cut(nil, audio, n, len(audio[0])))
		n += got
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
	}
	loudest := audio[0][:n]
	for _, channel := range audio[1:] {
		if level.RMS(channel[:n]) > level.RMS(loudest) {
			loudest = channel[:n]
		}
	}
	return loudest, nil
}
