package distortion

import (
	"fmt"
	"slices"
)

// Kind says what a record is, and so how it can be measured.
type Kind uint8

// The kinds.
const (
	Programme       Kind = iota // music, speech, noise: none of the others
	SingleTone                  // one steady tone, with its harmonics
	TwoTone                     // a strong and a weak steady tone
	DifferenceTones             // two steady tones of like level
	SquareAndTone               // the dynamic intermodulation signal: 3.15 kHz square and 15 kHz sine
	Multitone                   // six or more steady tones
	Ladder                      // one tone at three or more levels in turn, see [Steps]
	Silence                     // nothing, or DC alone
)

var kindNames = [...]string{
	Programme: "programme", SingleTone: "tone", TwoTone: "two-tone", DifferenceTones: "difference-tones",
	SquareAndTone: "square-and-tone", Multitone: "multitone", Ladder: "ladder", Silence: "silence",
}

// String returns the kind's name.
func (k Kind) String() string {
	if int(k) >= len(kindNames) {
		return fmt.Sprintf("Kind(%d)", uint8(k))
	}
	return kindNames[k]
}

// MarshalText writes the kind's name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// ParseKind returns the kind of a name that [Kind.String] gives.
func ParseKind(name string) (Kind, error) {
	if i := slices.Index(kindNames[:], name); i >= 0 {
		return Kind(i), nil
	}
	return 0, fmt.Errorf("distortion: no signal kind %q, legal are %q", name, kindNames)
}
