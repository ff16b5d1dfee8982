package shape

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// A law travels as 64-bit floats, little-endian: tolerance, reach and deviation of
// the fit, then nine numbers a piece: place, value and slope of its three knots.
// Everything else is made from these again, to the bit.
const (
	binaryHead  = 3
	binaryPiece = 9
)

// MarshalBinary writes a law that [Fit] or [Sketch] made, for another process. A law
// of [Linear] is refused: it is its gain.
func (l *Law) MarshalBinary() ([]byte, error) {
	if l.linear {
		return nil, errors.New("shape: a linear law has no pieces to write")
	}
	data := make([]byte, 0, 8*(binaryHead+binaryPiece*len(l.pieces)))
	put := func(values ...float64) {
		for _, v := range values {
			data = binary.LittleEndian.AppendUint64(data, math.Float64bits(v))
		}
	}
	put(l.within.tol, l.within.reach, l.worst)
	for _, p := range l.pieces {
		for _, k := range [...]knot{p.a, p.m, p.b} {
			put(k.x, k.y, k.slope)
		}
	}
	return data, nil
}

// UnmarshalBinary makes l the law that MarshalBinary wrote. It refuses data that is
// no law: of a wrong length, not finite, or of pieces that do not adjoin.
func (l *Law) UnmarshalBinary(data []byte) error {
	count := len(data)/8 - binaryHead
	if len(data)%8 != 0 || count < binaryPiece || count%binaryPiece != 0 || count/binaryPiece > maxCells {
		return fmt.Errorf("shape: %d bytes are no law", len(data))
	}
	values := make([]float64, len(data)/8)
	for i := range values {
		values[i] = math.Float64frombits(binary.LittleEndian.Uint64(data[8*i:]))
		if math.IsNaN(values[i]) || math.IsInf(values[i], 0) {
			return fmt.Errorf("shape: number %d of a law is not finite", i)
		}
	}
	pieces := make([]piece, count/binaryPiece)
	for i := range pieces {
		v := values[binaryHead+binaryPiece*i:]
		p := piece{knot{v[0], v[1], v[2]}, knot{v[3], v[4], v[5]}, knot{v[6], v[7], v[8]}}
		if !(p.a.x < p.m.x && p.m.x < p.b.x) || i > 0 && p.a.x != pieces[i-1].b.x {
			return fmt.Errorf("shape: piece %d of a law does not adjoin the one before it", i)
		}
		pieces[i] = p
	}
	if err := inSlots(pieces); err != nil {
		return err
	}
	*l = *joined(pieces, tolerances{values[0], values[1]})
	l.worst = values[2]
	return nil
}

// inSlots refuses pieces that are no even binary fractions of their range, which the
// index of a law relies on.
func inSlots(pieces []piece) error {
	lo, hi := pieces[0].a.x, pieces[len(pieces)-1].b.x
	for i, p := range pieces {
		slots := (p.b.x - p.a.x) / (hi - lo) * buckets * maxSlots
		from := (p.a.x - lo) / (hi - lo) * buckets * maxSlots
		whole := math.Round(slots)
		if _, exponent := math.Frexp(whole); whole < 1 || whole != math.Ldexp(1, exponent-1) ||
			math.Abs(slots-whole) > 1e-3 || math.Abs(math.Remainder(from, whole)) > 1e-3 {
			return fmt.Errorf("shape: piece %d of a law is no binary fraction of its range", i)
		}
	}
	return nil
}
