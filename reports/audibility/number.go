package audibility

import (
	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/stage"
)

// ToneNumbers returns the simple figures of a bench's stage that are set against
// the prediction: those of a steady tone with the piece's peak.
func ToneNumbers(bench *render.Bench) Numbers {
	return func(setting stage.Setting, peak float64) (map[string]float64, error) {
		evaluation, err := bench.Ladder().At(setting)
		if err != nil {
			return nil, err
		}
		figures, err := evaluation.Simple(peak)
		return numbers(figures), err
	}
}

// numbers are the figures by their names in JSON.
func numbers(f bias.Simple) map[string]float64 {
	n := map[string]float64{"thd": f.THD, "weighted_thd": f.WeightedTHD, "order_weighted": f.OrderWeighted}
	if f.Gm != nil {
		n["gm"] = *f.Gm
	}
	return n
}
