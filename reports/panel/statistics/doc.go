// Package statistics holds the statistics of forced-choice listening tests:
// what a count of right answers says ([Count], [Judge]), how many trials a
// question needs ([NewPlan], [MinimumTrials]) and how many listeners
// ([ListenersForMean], [ListenersForCount]), the psychometric function and its
// maximum-likelihood fit ([Model]), the tracks that choose the next stimulus
// ([Staircase], [Placement]), the post-screening of listeners ([ScreenRounds])
// and the pooling of a panel ([Pool]).
//
// Stimulus levels are plain float64 on an axis the caller names; the panel uses
// the level of the residual in decibels. Probabilities lie in [0, 1]. Every
// function is deterministic: whatever needs chance takes a *rand.Rand.
//
// Illegal arguments that only a programmer can pass (a negative number of
// trials, a probability outside [0, 1]) panic with the prefix "statistics: ".
// Data that cannot be fitted returns an error.
package statistics
