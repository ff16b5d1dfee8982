package audibility

import (
	"quietcross/corpus/render"
	"quietcross/reports/sweep"
	"quietcross/stage"
)

// weightedAt is the fundamental of the weighted THD, Hz: the highest that IEC
// 60268-3 defines it for.
const weightedAt = 400

// ToneNumbers returns the simple figures of a bench's stage that are set against
// the prediction: those of a steady tone with the piece's peak.
func ToneNumbers(bench *render.Bench) Numbers {
	return func(setting stage.Setting, peak float64) (map[string]float64, error) {
		law, _, err := bench.Law(setting)
		if err != nil {
			return nil, err
		}
		p := sweep.Measure(law, peak)
		numbers := map[string]float64{
			"thd":            p.THD,
			"weighted-thd":   p.WeightedTHD(weightedAt),
			"order-weighted": p.OrderWeighted,
		}
		if p.Gm != nil {
			numbers["gm"] = *p.Gm
		}
		return numbers, nil
	}
}
