package engine

import (
	"fmt"
	"math"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
)

// A Verdict is what the ear model makes of a stage's output against its input, both
// played the same way.
type Verdict struct {
	// Detection is the share of trials in which the difference is heard, from 0 to 1:
	// right answers in two intervals with what guessing gives taken out.
	Detection float64 `json:"detection"`
	DPrime    float64 `json:"d_prime"`
	// Peak is that of what is heard, re full scale, null where nothing is.
	Peak level.DB `json:"peak_db"`
	// Apart is how much louder the output is than the input, LU (ITU-R BS.1770-5), and
	// Silent tells that one of them is too soft to say.
	Apart  level.DB `json:"apart_db"`
	Silent bool     `json:"silent"`
	// Match is the gain that makes the output as loud as the input over the whole sound,
	// 1 where it was not asked for.
	Match float64 `json:"match"`
	// Residual is what is left of the output when as much of the input as fits best is
	// taken out, RMS re that.
	Residual float64 `json:"residual"`
}

// Predict plays planar audio at rate Hz through a law, from its beginning to its end
// with the controls held, and predicts whether the stage is heard in it. Where the output
// is to be as loud as the input, by a gain that is not given, it is so over the whole
// sound. It takes a fraction of the sound's length; proceed is told the share that is done.
func Predict(audio [][]float32, rate int, law *shape.Law, drive float64, c Controls, heard hearing.Conditions, proceed func(share float64) bool) (*Verdict, error) {
	done := 0.0
	play := func(m Monitor) ([][]float64, error) {
		c.Monitor = m
		played, err := Record(audio, rate, law, drive, c, func(share float64) bool { return proceed((done + share) / 3) })
		done++
		return wide(played), err
	}
	reference, err := play(Reference)
	if err != nil {
		return nil, err
	}
	var output [][]float64
	if c.Match && c.Gain == 0 {
		if output, err = matched(reference, law, drive*c.Level.Amplitude(), rate, func(gain float64) ([][]float64, error) {
			c.Gain, done = gain, 1
			return play(Output)
		}); err != nil {
			return nil, err
		}
	} else if output, err = play(Output); err != nil {
		return nil, err
	}
	v, err := compare(reference, output, rate, heard, func(share float64) bool { return proceed((2 + share) / 3) })
	if err != nil {
		return nil, err
	}
	if v.Match = 1; c.Match {
		v.Match = c.Gain
	}
	return v, nil
}

// How close the matching comes, LU, and after how many trials at most: where the limiter
// works, a gain is not what it makes louder.
const (
	matchedWithin level.DB = 0.005
	matchTrials   int      = 8
)

// matched returns what is played with the gain, with its polarity, that makes it as loud
// as the reference; it begins with that of a law over a swing in volts. Where either is
// too soft to say it is that.
func matched(reference [][]float64, law *shape.Law, swing float64, rate int, play func(gain float64) ([][]float64, error)) ([][]float64, error) {
	limit := maximumMatch.Amplitude()
	gain := slopeGain(law, swing)
	wanted, ok := loudness(reference, rate)
	for range matchTrials {
		output, err := play(gain)
		if err != nil || !ok {
			return output, err
		}
		found, audible := loudness(output, rate)
		if !audible || math.Abs(float64(wanted-found)) <= float64(matchedWithin) {
			return output, nil
		}
		gain = math.Copysign(min(limit, math.Abs(gain)*(wanted-found).Amplitude()), gain)
	}
	return play(gain)
}

// comparedFrames is how much of two signals is heard at a time.
const comparedFrames = 1024

// compare hears two signals of equal length.
func compare(reference, output [][]float64, rate int, heard hearing.Conditions, proceed func(share float64) bool) (*Verdict, error) {
	comparison, err := hearing.New(heard.Config(float64(rate), len(output)))
	if err != nil {
		return nil, fmt.Errorf("prediction: %w", err)
	}
	for from := 0; from < len(output[0]); from += comparedFrames {
		to := min(from+comparedFrames, len(output[0]))
		comparison.Process(between(reference, from, to), between(output, from, to))
		if !proceed(float64(to) / float64(len(output[0]))) {
			return nil, errStopped
		}
	}
	result := comparison.Result()
	v := &Verdict{Detection: hearing.Detection(result.DPrime), DPrime: result.DPrime, Residual: left(reference, output)}
	peak := 0.0
	for _, x := range output {
		peak = max(peak, level.Peak(x))
	}
	v.Peak = level.FromAmplitude(peak)
	in, heardIn := loudness(reference, rate)
	out, heardOut := loudness(output, rate)
	if v.Silent = !heardIn || !heardOut; !v.Silent {
		v.Apart = out - in
	}
	return v, nil
}

// between returns frames from..to of every channel.
func between(audio [][]float64, from, to int) [][]float64 {
	part := make([][]float64, len(audio))
	for c, x := range audio {
		part[c] = x[from:to]
	}
	return part
}

// maximumLeft bounds what is left where next to nothing fits.
const maximumLeft = 1e3

// left returns the RMS of output less what fits it best of reference, re that.
func left(reference, output [][]float64) float64 {
	cross, power, whole := 0.0, 0.0, 0.0
	for c, y := range output {
		for i, v := range y {
			r := reference[c][i]
			cross += v * r
			power += r * r
			whole += v * v
		}
	}
	if cross == 0 || power == 0 {
		return maximumLeft
	}
	fitted := cross / power
	return min(maximumLeft, math.Sqrt(max(0, whole/(fitted*fitted*power)-1)))
}

func loudness(audio [][]float64, rate int) (level.DB, bool) {
	meter := level.NewLoudness(float64(rate), len(audio))
	meter.Add(audio)
	return meter.Integrated()
}

// wide widens planar audio.
func wide(audio [][]float32) [][]float64 {
	planes := make([][]float64, len(audio))
	for c, x := range audio {
		planes[c] = make([]float64, len(x))
		for i, v := range x {
			planes[c][i] = float64(v)
		}
	}
	return planes
}
