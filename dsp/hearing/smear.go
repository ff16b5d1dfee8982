package hearing

import "math"

// Time constants in seconds: at very high centre frequencies, and at 100 Hz for
// the smearing of excitation (BS.1387, 2.1.8) and for adaptation and modulation
// (BS.1387, 3.1 and 3.2).
const (
	shortest    = 0.008
	smearAt100  = 0.030
	followAt100 = 0.050
)

// timeConstant returns shortest + (100 Hz/f)(at100 - shortest), in seconds.
func timeConstant(f, at100 float64) float64 {
	return shortest + 100/f*(at100-shortest)
}

// newDecay returns for each band the factor by which a first-order filter
// forgets in one hop.
func newDecay(bands *[bandCount]band, at100 float64) (decay pattern) {
	for k, b := range bands {
		decay[k] = math.Exp(-hopTime / timeConstant(b.centre, at100))
	}
	return decay
}

// follow moves state towards x by one hop.
func follow(state *pattern, k int, decay, x float64) float64 {
	state[k] = decay*state[k] + (1-decay)*x
	return state[k]
}

// smear spreads excitation forward in time, the ear's forward masking: the
// larger of the excitation now and its low-passed past (BS.1387, 2.1.8).
func smear(dst, state, decay, excitation *pattern) {
	for k, e := range excitation {
		dst[k] = max(follow(state, k, decay[k], e), e)
	}
}
