package render

import (
	"errors"
	"io"

	"quietcross/dsp/distortion"
	"quietcross/dsp/intake"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
)

// classifySeconds is how much of a file is looked at to tell a tone from
// programme.
const classifySeconds = 4

// classify tells what kind of signal a stream begins with, and its tones in
// hertz.
func classify(s intake.Stream) (kind string, tones []float64, err error) {
	x, err := beginning(s)
	if err != nil {
		return "", nil, err
	}
	detected, err := distortion.Detect(x, float64(s.Format().Rate))
	if err != nil {
		return distortion.Programme.String(), nil, nil // too short to tell
	}
	return detected.Kind.String(), detected.Refine(x, float64(s.Format().Rate)), nil
}

// beginning reads the first seconds of a stream's loudest channel.
func beginning(s intake.Stream) ([]float64, error) {
	format := s.Format()
	audio := planar.New(format.Channels, int(min(int64(classifySeconds*format.Rate), s.Frames())))
	n := 0
	for n < len(audio[0]) {
		got, err := s.Read(audio.Cut(n, len(audio[0])))
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
