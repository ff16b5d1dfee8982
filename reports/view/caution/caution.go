// Package caution holds what this program says about what can hurt someone, each
// subject once, for every terminal and page on which it applies. The texts are no
// training: they defer to local rules and codes, and to qualified people.
package caution

import (
	"fmt"
	"io"
	"strings"
)

// The subjects, each a sentence or two.
const (
	Hearing      = "Start with the volume low and raise it slowly: loud sound harms hearing for good, and without pain. Follow local rules on exposure to sound."
	Tweeters     = "Test tones and strong distortion can burn a tweeter that does not sound loud."
	HotParts     = "Heatsinks and emitter resistors burn skin, also with no signal: let them cool before you touch them."
	Mains        = "Mains voltage kills: leave mains-powered work to qualified people, and follow local codes."
	Capacitors   = "Reservoir capacitors stay charged after switch-off: have them discharged, and measure that they are."
	DummyLoad    = "Work into a dummy load rated for the power: a device that fails, or a wrong bias, puts the supply on a loudspeaker."
	LiveBias     = "Set the bias from its minimum, on a current-limited supply, and watch the current while the stage warms up."
	Runaway      = "Switch off at once if the current keeps rising: that is thermal runaway, and it destroys the stage."
	ModelFigures = "These are figures of a model, not of a built amplifier."
)

// Listening goes with all that is played.
func Listening() []string { return []string{Hearing, Tweeters} }

// Bench goes with figures that make someone work on a stage.
func Bench() []string { return append([]string{ModelFigures}, working()...) }

// Measuring goes with figures of a stage that someone measures.
func Measuring() []string { return append(working(), Tweeters) }

func working() []string {
	return []string{LiveBias, Runaway, DummyLoad, HotParts, Capacitors, Mains}
}

// Paragraph joins cautions to one text.
func Paragraph(cautions []string) string { return strings.Join(cautions, " ") }

// width is that of a terminal's lines.
const width = 80

// Write writes cautions as one paragraph, wrapped for a terminal.
func Write(w io.Writer, cautions []string) error {
	_, err := fmt.Fprintln(w, Wrapped(cautions))
	return err
}

// Wrapped is the paragraph for a terminal, with a leading "Caution:", in lines of at
// most 80 characters.
func Wrapped(cautions []string) string {
	var b strings.Builder
	at := 0
	for word := range strings.FieldsSeq("Caution: " + Paragraph(cautions)) {
		switch {
		case at == 0:
		case at+1+len(word) > width:
			b.WriteByte('\n')
			at = 0
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += len(word)
	}
	return b.String()
}
