package report

import (
	"fmt"
	"strconv"

	"quietcross/corpus"

	"quietcross/reports/view/format"
	"quietcross/stage"
)

// conditionLine is one line of what the numbers depend on.
type conditionLine struct{ Name, Text string }

func conditions(r *Report) []conditionLine {
	return []conditionLine{
		{"Stage", fmt.Sprintf("%s (%s), circuit %s; its values are in stage.toml beside this page", title(r), r.Stage, r.Circuit)},
		{"Drive", "digital full scale is " + format.Quantity(r.Drive, "V") + " peak at the stage's input; levels are relative to that"},
		{"Level matching", matchText(r.Match)},
		{"Solver", solverText(r)},
		{"Oversampling", fmt.Sprintf("the stage acts at %d times the rate of the file", r.Oversample)},
		{"Reference", referenceText(r.Solver)},
		{"Residual", "output less the best-fitting gain times the reference; its file carries a make-up gain, which every level and figure here takes out again"},
		{"Third octaves", "IEC 61260-1, base ten, mean over the file"},
		{"THD", "root sum of squares of orders 2 to 20, as far as the rate holds them, re the fundamental (IEC 60268-3)"},
		{"Detection", detectionText(r)},
		{"ITU-R BS.1387", standardText()},
		{"Simple numbers", "of a steady sine with the item's peak through the midband law at rest temperatures: THD of all orders; 468-weighted, a 400 Hz tone to order 20 through the noise network of ITU-R BS.468-4; order-weighted, each order to 20 times a quarter of its square; Gm after Geddes and Lee, which diverges for an ideal dead band"},
		{"Weighted residual", "RMS re the programme, both through the same weighting (A: IEC 61672-1; 468: ITU-R BS.468-4), from mean spectra, 20 Hz to 20 kHz"},
		{"Rank correlation", "Spearman's, with d′: 1 where the number always rises with it, 0 where it tells nothing"},
		{"Version", fmt.Sprintf("%s %s, seed %s", r.Program, r.Version, strconv.FormatUint(r.Seed, 10))},
		{"Numbers", "report.json and spectra.csv beside this page hold all of them"},
	}
}

func matchText(match string) string {
	switch match {
	case "loudness":
		return "outputs have the integrated loudness of the reference (ITU-R BS.1770)"
	case "gain":
		return "outputs have the best-fitting gain to the reference taken out"
	default:
		return "none: outputs have the level that the stage gives them, so that the louder one may please more for that alone"
	}
}

// referenceText says what the residual is a difference from.
func referenceText(solver string) string {
	if solver == "dynamic" {
		return "the circuit's own linear response: what its capacitors, windings and loudspeaker do to a signal too weak to distort is in the reference, so that the residual is distortion alone"
	}
	return "the same route through an ideal linear stage"
}

// solverText says how the stage was solved and, in time, how that went.
func solverText(r *Report) string {
	if r.Solver != "dynamic" {
		return "static: the circuit has no memory in this band; one transfer law, antialiased"
	}
	var sum corpus.Steps
	for i := range r.Items {
		for j := range r.Items[i].Renderings {
			if s := r.Items[i].Renderings[j].Steps; s != nil {
				sum.Taken += s.Taken
				sum.Split += s.Split
				sum.Retried += s.Retried
			}
		}
	}
	text := "dynamic: the circuit is solved in time, each sample being the mean about its time"
	if sum.Taken == 0 {
		return text
	}
	return fmt.Sprintf("%s; of %s steps of %d samples %s were split where a voltage or current moves abruptly, and %s times one had to be split to settle",
		text, format.Count(sum.Taken), stage.StepSamples, format.Percent(float64(sum.Split)/float64(sum.Taken), 2), format.Count(sum.Retried))
}
