package wave

import (
	"fmt"

	"quietcross/dsp/planar"
)

// maxReadFileSamples bounds ReadFile to 512 MiB of samples.
const maxReadFileSamples = 64 << 20

// ReadFile reads a whole short file into [channel][frame]. Files of more than
// 64 Mi samples, all channels together (12 minutes of stereo at 48 kHz), are
// refused: stream them with [Open].
func ReadFile(path string) (Format, [][]float64, error) {
	r, err := Open(path)
	if err != nil {
		return Format{}, nil, err
	}
	defer r.Close()
	f := r.Format()
	if r.Frames() > maxReadFileSamples/int64(f.Channels) {
		return Format{}, nil, fmt.Errorf("%s: %d frames of %d channels are too many to hold; legal: %d samples in all", path, r.Frames(), f.Channels, maxReadFileSamples)
	}
	samples := planar.New(f.Channels, int(r.Frames()))
	if r.Frames() == 0 {
		return f, samples, nil
	}
	if _, err := r.Read(samples); err != nil {
		return Format{}, nil, err
	}
	return f, samples, nil
}
