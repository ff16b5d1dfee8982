package report

import (
	"fmt"
	"html/template"

	"quietcross/reports/view/format"
)

// player is the data of the page's script, a JSON block.
type player struct {
	Items []playerItem `json:"items"`
}

// playerItem is one item: its clip and what its tracks are, in the clip's order:
// the reference, then output and residual of each rung.
type playerItem struct {
	Clip     string        `json:"clip"`
	Rate     int           `json:"rate"`
	Channels int           `json:"channels"`
	Frames   int64         `json:"frames"`
	Tracks   []playerTrack `json:"tracks"`
}

// playerTrack is one track. MakeUp, dB, is zero but for residuals.
type playerTrack struct {
	Name   string  `json:"name"`
	MakeUp float64 `json:"makeUp"`
}

func newPlayer(r *Report) player {
	p := player{Items: []playerItem{}}
	for i := range r.Items {
		item := &r.Items[i]
		entry := playerItem{
			Clip: ClipFolder + "/" + clipName(i), Rate: item.Rate, Channels: item.Channels, Frames: item.Excerpt.Frames,
			Tracks: []playerTrack{{Name: "Reference"}},
		}
		for k, rendering := range item.Renderings {
			entry.Tracks = append(entry.Tracks,
				playerTrack{Name: r.Rungs[k].Label + ", output"},
				playerTrack{Name: r.Rungs[k].Label + ", residual", MakeUp: float64(rendering.Residual.MakeUp)})
		}
		p.Items = append(p.Items, entry)
	}
	return p
}

// playerView is the part of a player that the template writes.
type playerView struct {
	Excerpt string
	Rows    []playerRow
	Whole   template.URL // the reference's file
}

// playerRow is a rung's pair of buttons; the numbers are places in the clip.
type playerRow struct {
	Rung             rungView
	Output, Residual int
	MakeUp           string
	OutputFile       template.URL
	ResidualFile     template.URL
	Worst            *worst
}

func newPlayerView(r *Report, item *Item) playerView {
	v := playerView{Excerpt: excerptText(item), Whole: link(item.Reference.File)}
	for k, rendering := range item.Renderings {
		v.Rows = append(v.Rows, playerRow{
			Rung: newRung(r, k), Output: 1 + 2*k, Residual: 2 + 2*k, MakeUp: format.DB(rendering.Residual.MakeUp),
			OutputFile: link(rendering.File), ResidualFile: link(rendering.Residual.File),
			Worst: newWorst(item, &item.Renderings[k]),
		})
	}
	return v
}

func excerptText(item *Item) string {
	rate := float64(item.Rate)
	if item.Excerpt.Frames >= item.Frames {
		return "The players hold the whole item in 16 bits."
	}
	return fmt.Sprintf("The players hold %s from %s on, in 16 bits: the stretch in which the strongest residual has most energy. Worst moments are named by their time in the file.",
		format.Duration(float64(item.Excerpt.Frames)/rate), format.Duration(float64(item.Excerpt.Start)/rate))
}
