package quiescent

import (
	"math"

	"quietcross/stage"
)

// classAPower returns the power of a sine into the load whose peak current is as
// given, W: (2 IQ)² RL/2 for a pair of followers
// (Sedra and Smith, Microelectronic Circuits, class AB output stage).
func classAPower(peak, ohms float64) float64 { return peak * peak * ohms / 2 }

// swing returns the maximum load current in class A for each ampere of quiescent
// current: 2 for a pair of followers, and more where an output transformer steps
// the current up. Two devices share it until one leaves off, at twice the
// quiescent current between them; one alone can give its quiescent current. It
// is taken from the solved stage at half its drive, where no device saturates.
func swing(b *stage.Biased, drive float64) (float64, error) {
	out, _, err := b.Transfer(drive / 2)
	if err != nil {
		return 0, err
	}
	at, err := b.Devices(drive / 2)
	if err != nil {
		return 0, err
	}
	rest := b.Point()
	places := b.Outputs()
	moved := math.Abs((out - rest.Output) / b.Stage().Spec().Load.Ohms)
	if len(places) == 1 {
		one := places[0]
		return moved / math.Abs(at[one].Current-rest.Devices[one].Current), nil
	}
	between := math.Abs(at[places[0]].Current - at[places[1]].Current)
	return 2 * moved / between, nil
}

// classACurrent is the quiescent current at which a stage is in class A up to its
// drive, A.
func classACurrent(b *stage.Biased, drive, swing float64) (float64, error) {
	out, _, err := b.Transfer(drive)
	if err != nil {
		return 0, err
	}
	return math.Abs(out-b.Point().Output) / b.Stage().Spec().Load.Ohms / swing, nil
}
