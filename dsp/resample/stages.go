package resample

// MaxFactor is the maximum rate factor of [Up] and [Down].
const MaxFactor = 32

// PassEdge is the end of the band that the cascades leave flat, as a fraction of
// the base rate: 20 kHz at 44.1 kHz. What would fold into it is stopped.
const PassEdge = 0.4535

// stagesFor returns the number of half-band stages for a factor, and panics if
// the factor is no power of two from 1 to [MaxFactor].
func stagesFor(factor int) int {
	for n := range halfbands {
		if factor == 1<<n {
			return n
		}
	}
	if factor == MaxFactor {
		return len(halfbands)
	}
	panic("resample: the factor must be a power of two from 1 to 32")
}
