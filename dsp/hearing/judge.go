package hearing

import (
	"math"

	"quietcross/dsp/level"
)

// judge compares sensations frame by frame and keeps the averages.
type judge struct {
	config   Config
	workshop workshop
	channels []channel
	detector detector
	recorder recorder
	frames   int
	loudFrom int // the first frame whose noise loudness counts
}

func newJudge(c Config) *judge {
	return &judge{
		config:   c,
		workshop: workshop{model: standard(), harmonics: newHarmonics()},
		channels: make([]channel, c.Channels),
		loudFrom: math.MaxInt,
	}
}

// add compares the next frame of every channel.
func (j *judge) add(ref, test []sensation) {
	j.listenForLoudness(ref, test)
	var doubt, steps pattern
	var worst, energy float64
	for c := range j.channels {
		ratio := j.channels[c].compare(&j.workshop, j.frames, j.loudFrom, &ref[c], &test[c])
		worst = max(worst, ratio)
		energy = max(energy, ref[c].energy)
		detect(&doubt, &steps, &ref[c], &test[c])
	}
	probability, total := binaural(&doubt, &steps)
	j.recorder.add(Moment{
		Time:        hopTime * float64(j.frames+1),
		Probability: probability,
		Filtered:    j.detector.add(probability, total),
		NoiseToMask: level.FromPower(worst),
		Reference:   max(0, j.config.PlaybackSPL+level.FromPower(energy*2/hop)),
		Steps:       total,
	})
	j.frames++
}

// listenForLoudness starts the average of noise loudness a little after both
// signals are first loud in any channel.
func (j *judge) listenForLoudness(ref, test []sensation) {
	for c := range ref {
		if j.loudFrom == math.MaxInt && j.loud(&ref[c]) && j.loud(&test[c]) {
			j.loudFrom = j.frames + framesToLoud
		}
	}
}

func (j *judge) loud(s *sensation) bool {
	return j.workshop.model.loudness.total(&s.excitation) > loudEnough
}

// result gathers the averages.
func (j *judge) result() Result {
	r := Result{
		PlaybackSPL:    j.config.PlaybackSPL,
		Frames:         j.frames,
		Detection:      j.detector.maximum,
		DistortedBlock: j.detector.averageBlock(),
		Series:         j.recorder.series(),
	}
	for c := range j.channels {
		r.add(&j.channels[c].tally, len(j.channels))
	}
	return r
}
