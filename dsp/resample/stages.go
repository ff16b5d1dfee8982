package resample

// halfbands lists the filters of the cascade, the one next to the base rate
// first.
var halfbands = [][]float64{
	kaiserHalfband(52, 14.6),
	kaiserHalfband(10, 15.6),
	kaiserHalfband(7, 15.6),
	kaiserHalfband(6, 15.6),
	kaiserHalfband(6, 15.6),
}

// MaxFactor is the greatest rate factor of [Up] and [Down].
const MaxFactor = 32

// stagesFor returns the number of half-band stages for a factor, and panics if
// the factor is no power of two from 1 to [MaxFactor].
func stagesFor(factor int) int {
	for n := 0; 1<<n <= MaxFactor; n++ {
		if factor == 1<<n {
			return n
		}
	}
	panic("resample: the factor must be a power of two from 1 to 32")
}
