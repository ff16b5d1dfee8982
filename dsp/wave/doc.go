// Package wave reads and writes WAV files as streams of planar float64 blocks.
package wave
