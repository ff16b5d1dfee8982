package quiescent

import (
	"errors"
	"io"

	"quietcross/corpus/render"
	"quietcross/dsp/intake"
	"quietcross/stage"
)

// histogramBins is how finely a programme's voltages are told apart.
const histogramBins = 256

// A histogram collects samples into bins between -1 and 1 with the mean of each.
type histogram struct {
	count [histogramBins]float64
	sum   [histogramBins]float64
	total float64
}

func (h *histogram) add(x float64) {
	bin := min(max(int((x+1)/2*histogramBins), 0), histogramBins-1)
	h.count[bin]++
	h.sum[bin] += x
	h.total++
}

// profile returns the profile of the samples at volts a full scale.
func (h *histogram) profile(volts float64) stage.Profile {
	var p stage.Profile
	for i, n := range h.count {
		if n > 0 {
			p = append(p, stage.Share{Volts: volts * h.sum[i] / n, Part: n / h.total})
		}
	}
	return p
}

// collect reads all sources, one after another, into one histogram.
func collect(sources []render.Source) (*histogram, error) {
	h := &histogram{}
	for _, source := range sources {
		stream, err := source.Open()
		if err != nil {
			return nil, err
		}
		if err := errors.Join(h.read(stream), stream.Close()); err != nil {
			return nil, err
		}
	}
	if h.total == 0 {
		return nil, errors.New("quiescent: the material is empty")
	}
	return h, nil
}

func (h *histogram) read(stream intake.Stream) error {
	block := make([][]float64, stream.Format().Channels)
	for c := range block {
		block[c] = make([]float64, 1<<14)
	}
	for {
		n, err := stream.Read(block)
		for _, channel := range block {
			for _, x := range channel[:n] {
				h.add(x)
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}
