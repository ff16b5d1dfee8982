package transform

import "golang.org/x/sys/cpu"

// halvesVector, fourthsVector and lastVector do a stage and return true, or do nothing and
// return false where vector instructions are missing or the stage too short.

func halvesVector(re, im, roots []float64) bool {
	n := len(re)
	if !cpu.X86.HasAVX || n < 8 {
		return false
	}
	im, roots = im[:n], roots[:n]
	halvesAVX(&re[0], &im[0], &roots[0], n/2)
	return true
}

func fourthsVector(re, im []float64, s *fourths) bool {
	n := len(re)
	if !cpu.X86.HasAVX {
		return false
	}
	im, q := im[:n], s.quarter
	roots := s.roots[:6*q]
	fourthsAVX(&re[0], &im[0], &roots[0], q, n/(4*q))
	return true
}

func lastVector(re, im []float64) bool {
	n := len(re)
	if !cpu.X86.HasAVX || n < 16 {
		return false
	}
	im = im[:n]
	lastAVX(&re[0], &im[0], n/16)
	return true
}

// halvesAVX runs a stage of halves; half is a multiple of 4.
//
//go:noescape
func halvesAVX(re, im, roots *float64, half int)

// fourthsAVX runs so many blocks of a stage of fourths; quarter is a multiple of 4.
//
//go:noescape
func fourthsAVX(re, im, roots *float64, quarter, blocks int)

// lastAVX runs the last stage on so many groups of sixteen values.
//
//go:noescape
func lastAVX(re, im *float64, groups int)
