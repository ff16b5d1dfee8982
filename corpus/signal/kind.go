package signal

import "fmt"

// Kind says what a material is made of, and so which measurements fit it.
type Kind uint8

// The kinds of material.
const (
	Programme       Kind = iota // music, noise or speech
	SingleTone                  // one steady sinusoid
	TwoTone                     // a strong low and a weak high sinusoid
	DifferenceTones             // two high sinusoids of equal level
	SquareAndTone               // a band-limited square wave and a sinusoid
	Multitone                   // many sinusoids, spaced logarithmically
	Ladder                      // one sinusoid stepping down, silence between
	Silence                     // digital zero
)

var kindNames = [...]string{
	Programme:       "programme",
	SingleTone:      "tone",
	TwoTone:         "two-tone",
	DifferenceTones: "difference-tones",
	SquareAndTone:   "square-and-tone",
	Multitone:       "multitone",
	Ladder:          "ladder",
	Silence:         "silence",
}

// String returns the kind's name, such as "two-tone".
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// MarshalText writes the kind's name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }
