package quiescent

import "quietcross/stage"

// AtRest returns where a stage settles with no signal, in air of its file's ambient
// temperature, after its bias was set cold to a quiescent current in amperes; 0
// stands for no bias. The bias source follows the sink as the file's coupling says.
// The error is that of a stage that cannot be solved.
func AtRest(st *stage.Stage, quiescent float64) (Thermal, error) {
	thermal := st.Spec().Thermal
	b, err := newBias(st, quiescent, thermal.Ambient)
	if err != nil {
		return Thermal{}, err
	}
	_, t, err := settle(&b, thermal.Ambient, thermal.MaximumJunction, idle())
	return t, err
}
