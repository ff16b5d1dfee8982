//go:build !amd64

package transform

// There are no vector instructions here for the stages: each says that it did nothing.

func halvesVector(_, _, _ []float64) bool { return false }

func fourthsVector(_, _ []float64, _ *fourths) bool { return false }

func lastVector(_, _ []float64) bool { return false }
