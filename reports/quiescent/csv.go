package quiescent

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
)

// WriteCSV writes one line for each stage and current, in SI base units.
func (r *Report) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(columns(r)); err != nil {
		return err
	}
	for _, stage := range r.Stages {
		for i := range stage.Rungs {
			if err := out.Write(record(stage, &stage.Rungs[i])); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// columns are the names of the values of a record.
func columns(r *Report) []string {
	names := []string{
		"stage", "quiescent_a", "bias_v", "emitter_v", "class_a_w", "rest_supply_w",
		"idle_junction_k", "programme_junction_k", "sine_junction_k", "sine_peak_v", "runaway",
		"loop_gain_slow", "loop_gain_fast", "drift_low", "drift_high", "hour_j",
		"worst_detection", "worst_d_prime", "worst_material", "worst_level_db", "use_low_a", "use_high_a", "use_detection", "any_air_low_a", "any_air_high_a", "any_air_detection", "chosen", "breaks", "thd_mean",
	}
	for _, tone := range firstTones(r.Stages) {
		at := fmt.Sprintf("_at_%gdb", float64(tone.Level))
		names = append(names, "thd"+at, "weighted_thd"+at, "modulation"+at, "difference"+at)
		for _, f := range Frequencies {
			names = append(names, fmt.Sprintf("thd%s_%ghz", at, f))
		}
	}
	return append(names, "refusal")
}

// firstTones returns the tones of the first rung that has them.
func firstTones(stages []*Result) []Tone {
	for _, s := range stages {
		for _, rung := range s.Rungs {
			if len(rung.Tones) > 0 {
				return rung.Tones
			}
		}
	}
	return nil
}

func record(s *Result, r *Rung) []string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	low, high := r.Drift()
	list := []string{s.Stage}
	for _, v := range []float64{
		r.Quiescent, r.Bias, r.EmitterVolts, r.ClassA, r.Rest.Supply,
		r.Idle.Junction, r.Programme.Junction, r.Sine.Junction, r.Sine.Peak,
	} {
		list = append(list, number(v))
	}
	list = append(list, strconv.FormatBool(r.Idle.Runaway() || r.Sine.Runaway() || r.Programme.Runaway()))
	for _, v := range []float64{gain(r.Idle.LoopGain), gain(r.Idle.JunctionLoopGain), low, high, r.HourJoules} {
		list = append(list, number(v))
	}
	if heard, ok := r.Worst(); ok {
		list = append(list, number(heard.Detection), number(heard.DPrime), heard.Material, number(float64(heard.Level)))
	} else {
		list = append(list, "", "", "", "")
	}
	if u := r.Use; u != nil {
		list = append(list, number(u.Own.Low), number(u.Own.High), number(u.Own.Heard.Detection),
			number(u.Any.Low), number(u.Any.High), number(u.Any.Heard.Detection))
	} else {
		list = append(list, "", "", "", "", "", "")
	}
	list = append(list, strconv.FormatBool(s.Chosen != nil && s.Chosen.Quiescent == r.Quiescent), broken(r), number(r.Distortion))
	for _, tone := range r.Tones {
		list = append(list, number(tone.THD), number(tone.WeightedTHD), number(tone.Modulation), number(tone.Difference))
		for _, f := range tone.ByFrequency {
			list = append(list, number(f.THD))
		}
	}
	if len(r.Tones) == 0 {
		for range (4 + len(Frequencies)) * len(firstTones([]*Result{s})) {
			list = append(list, "")
		}
	}
	return append(list, r.Refusal)
}

// gain is a loop gain, not a number where there is none.
func gain(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}
