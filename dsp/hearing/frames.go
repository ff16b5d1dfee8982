package hearing

import "fmt"

// framer cuts channels into frames of frameLength samples, hop apart. The first
// frame starts at the first sample.
type framer struct {
	buffer [][frameLength]float64
	filled int
}

func newFramer(channels int) *framer {
	return &framer{buffer: make([][frameLength]float64, channels)}
}

// take copies samples of block, from frame offset on, until the buffer is full
// or the block used up. It returns how many frames it took.
func (f *framer) take(block [][]float64, offset int) int {
	n := min(frameLength-f.filled, len(block[0])-offset)
	for c, samples := range block {
		copy(f.buffer[c][f.filled:], samples[offset:offset+n])
	}
	f.filled += n
	return n
}

func (f *framer) full() bool { return f.filled == frameLength }

// advance makes room for the next hop.
func (f *framer) advance() {
	for c := range f.buffer {
		copy(f.buffer[c][:], f.buffer[c][hop:])
	}
	f.filled -= hop
}

// mustMatch panics unless block holds the given number of channels, all as long
// as the first of like.
func mustMatch(what string, block [][]float64, channels int, like [][]float64) {
	if len(block) != channels {
		panic(fmt.Sprintf("hearing: %s has %d channels, want %d", what, len(block), channels))
	}
	for c, samples := range block {
		if len(samples) != len(like[0]) {
			panic(fmt.Sprintf("hearing: %s channel %d has %d frames, want %d", what, c, len(samples), len(like[0])))
		}
	}
}
