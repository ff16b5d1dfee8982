package report

import (
	"fmt"
	"math"

	"quietcross/corpus"
)

// check refuses numbers of a manifest that no rendering can have and that
// measuring would stumble over.
func check(m *corpus.Manifest) error {
	if !(m.Drive > 0 && m.Drive < 1e6) {
		return fmt.Errorf("drive_v: found %g, legal is above 0 and below 1e6", m.Drive)
	}
	for i, rung := range m.Rungs {
		for key, v := range map[string]float64{"gain_at_zero": rung.GainAtZero, "gain_at_swing": rung.GainAtSwing, "crossover_width_v": rung.CrossoverWidth} {
			if !(math.Abs(v) < 1e6) {
				return fmt.Errorf("rungs[%d].%s: found %g, legal is below 1e6 either side of 0", i, key, v)
			}
		}
	}
	for i := range m.Items {
		item := &m.Items[i]
		if item.Channels < 1 || item.Channels > 64 || item.Rate < 1 || item.Frames < 0 {
			return fmt.Errorf("items[%d]: found %d channels, %d Hz, %d frames; legal are 1 to 64, above 0, 0 or more", i, item.Channels, item.Rate, item.Frames)
		}
		if err := checkGain("trim_db", float64(item.Trim)); err != nil {
			return fmt.Errorf("items[%d].%w", i, err)
		}
		for k, r := range item.Renderings {
			err := checkGain("applied_db", float64(r.Applied))
			if err == nil {
				err = checkGain("residual.make_up_db", float64(r.Residual.MakeUp))
			}
			if err == nil && !(math.Abs(r.Gain) < 1e6) {
				err = fmt.Errorf("gain: found %g, legal is below 1e6 either side of 0", r.Gain)
			}
			if err != nil {
				return fmt.Errorf("items[%d].renderings[%d].%w", i, k, err)
			}
		}
	}
	return nil
}

func checkGain(key string, gain float64) error {
	if !(math.Abs(gain) <= 300) {
		return fmt.Errorf("%s: found %g, legal is -300 to 300", key, gain)
	}
	return nil
}
