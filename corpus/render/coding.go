package render

import (
	"bufio"
	"encoding/binary"
	"io"
	"math"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/level"
	"quietcross/dsp/wave"
)

// A coding reduces a block of one channel to integers of so many bytes, the maximum of the
// block becoming the maximum integer. Before them stand the gain of the block's reference
// and the size of a step, as binary64. A block that holds no number, infinity, or nothing
// that steps could be made of is kept as it is, and the step stands as no number.
type coding int

const (
	remains coding = 3 // of a rung, beside its reference
	whole   coding = 4 // of the reference
	exact   coding = 8 // every block as it is
)

// codingFor returns the coding of a track, the reference's or a rung's, that will be written
// in a format.
func codingFor(f wave.Format, reference bool) coding {
	switch {
	case f.Encoding == wave.Float || f.Bits > 24:
		return exact
	case reference:
		return whole
	}
	return remains
}

const (
	codingHead = 16 // bytes before the values
	spare      = 4  // bytes beyond its end that an integer may be written over at first
)

// minimumPeak is such that steps of it are normal numbers.
const minimumPeak = 0x1p-960

// steps returns how many steps the maximum is.
func (c coding) steps() float64 { return float64(int64(1)<<(8*c-1) - 1) }

// append appends the code of a block.
func (c coding) append(dst []byte, gain float64, block []float64) []byte {
	peak := level.Peak(block)
	none := math.IsNaN(floats.Sum(block)) // the peak does not count it
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(gain))
	if c == exact || none || !(peak == 0 || peak >= minimumPeak && peak <= math.MaxFloat64) {
		return appendRaw(dst, block)
	}
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(peak/c.steps()))
	perStep := 0.
	if peak > 0 {
		perStep = c.steps() / peak
	}
	start, size := len(dst), int(c)*len(block)
	dst = append(dst, make([]byte, size+spare)...)
	c.pack(dst[start:], block, perStep)
	return dst[:start+size]
}

// pack writes each value as the integer nearest to its multiple.
func (c coding) pack(dst []byte, block []float64, perStep float64) {
	const round = 0x1.8p52 // to which an integer is added in the last places, ties to even
	at := 0
	for _, v := range block {
		binary.LittleEndian.PutUint32(dst[at:], uint32(math.Float64bits(v*perStep+round)))
		at += int(c)
	}
}

func appendRaw(dst []byte, block []float64) []byte {
	dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(math.NaN()))
	for _, v := range block {
		dst = binary.LittleEndian.AppendUint64(dst, math.Float64bits(v))
	}
	return dst
}

// read decodes one block and returns the gain of its reference.
func (c coding) read(r *bufio.Reader, block []float64) (gain float64, err error) {
	head, err := r.Peek(codingHead)
	if err != nil {
		return 0, unexpected(err)
	}
	gain = math.Float64frombits(binary.LittleEndian.Uint64(head))
	step := math.Float64frombits(binary.LittleEndian.Uint64(head[8:]))
	size := int(c) * len(block)
	if math.IsNaN(step) {
		size = 8 * len(block)
	}
	all, err := r.Peek(codingHead + size)
	if err != nil {
		return 0, unexpected(err)
	}
	if math.IsNaN(step) {
		readRaw(block, all[codingHead:])
	} else {
		c.unpack(block, all, step)
	}
	_, err = r.Discard(codingHead + size)
	return gain, err
}

// unpack is the way back of pack from code with its head. Each integer is read as the upper
// bytes of a word, which begins before it.
func (c coding) unpack(block []float64, code []byte, step float64) {
	c.unpackPlain(block, code, step, c.unpackVectors(block, code, step))
}

// unpackPlain is unpack from a value on.
func (c coding) unpackPlain(block []float64, code []byte, step float64, from int) {
	shift := 32 - 8*uint(c)
	at := codingHead - int(shift/8) + from*int(c)
	for i := from; i < len(block); i++ {
		word := int32(binary.LittleEndian.Uint32(code[at:]))
		block[i] = float64(word>>shift) * step
		at += int(c)
	}
}

func readRaw(block []float64, code []byte) {
	for i := range block {
		block[i] = math.Float64frombits(binary.LittleEndian.Uint64(code[8*i:]))
	}
}

func unexpected(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
