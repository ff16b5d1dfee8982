package quiescent

import (
	"errors"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/intake"
	"quietcross/dsp/planar"
)

// collect reads all sources, one after another, into one histogram of a full scale of
// some volts.
func collect(sources []render.Source, volts float64) (*bias.Histogram, error) {
	h := bias.NewHistogram(-volts, volts)
	for _, source := range sources {
		stream, err := source.Open()
		if err != nil {
			return nil, err
		}
		if err := errors.Join(count(h, stream, volts), stream.Close()); err != nil {
			return nil, err
		}
	}
	if h.Total() == 0 {
		return nil, errors.New("quiescent: the material is empty")
	}
	return h, nil
}

func count(h *bias.Histogram, stream intake.Stream, volts float64) error {
	return planar.Each(stream, stream.Format().Channels, func(block planar.Audio) error {
		for _, channel := range block {
			floats.Scale(volts, channel)
			h.Add(channel)
		}
		return nil
	})
}
