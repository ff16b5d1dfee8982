// Package audibility finds the quiescent current at which crossover distortion
// is predicted to be heard: for any material, at any level, through any stage.
//
// A [Case] is one piece of material at one level: a reference, and a function
// that renders it at a quiescent current. [Run] renders each case at currents
// spread evenly on a logarithmic scale, lets the ear model of quietcross/dsp/bs1387
// compare every rendering with the reference, and narrows each place where the
// probability of detection crosses the limit, however many there are. A
// [Finding] holds the curve, the crossings and what a listener needs to go to
// the moment in question.
//
// The answer is a model's, for an average trained listener at a stated playback
// level. It is no substitute for a blind test, and so no text of this package
// calls anything inaudible: it says what is not predicted audible, and under
// which conditions. Two crossings nearer to each other than the spacing of the
// currents can be missed.
//
// Findings are written as a table for a terminal, as JSON and as a page.
package audibility
