package server

import (
	"crypto/rand"
	"encoding/binary"
	"math/big"
)

// token returns an opaque name of 128 random bits.
func token() string { return rand.Text() }

// below returns a uniform number in [0, n) from the system's randomness.
func below(n int) int {
	v, err := rand.Int(rand.Reader, big.NewInt(int64(n)))
	if err != nil {
		panic("panel: no system randomness: " + err.Error()) // crypto/rand never fails
	}
	return int(v.Int64())
}

// seed returns 63 random bits, which SQLite stores as they are.
func seed() uint64 {
	var b [8]byte
	rand.Read(b[:]) // never fails
	return binary.LittleEndian.Uint64(b[:]) >> 1
}

// shuffle puts the items into a uniformly random order.
func shuffle[T any](items []T) {
	for i := len(items) - 1; i > 0; i-- {
		j := below(i + 1)
		items[i], items[j] = items[j], items[i]
	}
}

// codeLetters leaves out what is misread: no 0 O 1 I L.
const codeLetters = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

// Code returns n random letters and digits that are easily told apart, for
// listener codes and join codes. Eight hold 39 bits.
func Code(n int) string {
	b := make([]byte, n)
	for i := range b {
		b[i] = codeLetters[below(len(codeLetters))]
	}
	return string(b)
}
