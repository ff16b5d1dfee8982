package quiescent

import (
	"errors"
	"io"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/intake"

	"gonum.org/v1/gonum/floats"
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
	block := make([][]float64, stream.Format().Channels)
	for c := range block {
		block[c] = make([]float64, 1<<14)
	}
	for {
		n, err := stream.Read(block)
		for _, channel := range block {
			floats.Scale(volts, channel[:n])
			h.Add(channel[:n])
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}
