// Package hearing predicts whether people hear a difference between two signals.
package hearing
