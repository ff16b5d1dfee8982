// Package audibility finds the quiescent current at which crossover distortion
// is predicted to be heard: for any material, at any level, through any stage.
//
// A [Case] is one piece of material at one level: a reference, and a function
// that renders it at a quiescent current. [Run] renders each case at currents of a
// fixed lattice, lets the detection model of quietcross/dsp/hearing compare every
// rendering with the reference, and narrows each place where what is heard crosses the
// limit. A [Finding] holds the curve, the crossings, the threshold with its interval, and
// what a listener needs to go to the moment in question. The figures of ITU-R BS.1387
// stand beside as the standard's; nothing rests on them.
//
// # One limit
//
// The limit is a probability of noticing with chance taken out, [hearing.Detection]; one
// half of it, the default, is 75 % right in two intervals. report, quiescent and survey
// mean the same.
//
// # One lattice, one threshold
//
// What is heard need not fall evenly with current: two halves of a crossover can cancel,
// and a stage beyond its optimum can be heard again. Two searches that begin at different
// currents then find different crossings. So every search of the program begins at no
// current and goes on at those of [Lattice], which depend neither on the range asked nor
// on the stage, and is narrowed in the same way; see search.go. The threshold is the
// lowest crossing above which the difference is no longer predicted audible, all other
// crossings are named beside it. Windows that lie wholly between two currents of the
// lattice are missed. Where what is heard lies far under the limit the lattice is not
// rendered whole, and a difference is missed that rises to the limit and falls again within
// such a gap, by more than ever was seen; see drawn.go. The gaps are named too.
//
// # Its interval
//
// The interval of a threshold says between which currents it lies if the model errs as it
// does on published thresholds and the listener is as their answers left them,
// [hearing.Conditions.Interval]: from the threshold down to where d' has grown by the
// factor of that interval, and up to where it has shrunk by it.
//
// The answer is a model's, for stated conditions. It is no substitute for a blind test,
// and so no text of this package calls anything inaudible: it says what is not predicted
// audible, and under which conditions.
//
// Findings are written as a table for a terminal, as JSON and as a page.
package audibility
