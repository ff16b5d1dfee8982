// Package survey answers how much of a library of recordings is predicted clean at a
// quiescent current, for one stage or several.
//
// A library is folders and list files ([List]). Each recording is read once from end to
// end in bounded memory ([scan]), which gives its loudness over time, and excerpts are
// chosen from that by rule and seed ([choose]): the quietest sustained passage, the
// longest fade, a typical loud passage. For each excerpt and stage the search of
// quietcross/reports/audibility finds the quiescent currents at which crossover
// distortion is predicted heard; every outcome is kept at once in a SQLite file
// (store.go), so that a run that was killed goes on where it was. From the outcomes
// [Conclude] works out the distribution: the share of recordings predicted clean against
// the current, its bootstrap interval over recordings (bootstrap.go), the currents that
// keep half, nine tenths and 99 hundredths clean, the worst recordings, and which
// property of a recording goes with its threshold.
//
// A library can be divided among machines: [Part] takes a share by a hash of each path,
// and [Merge] joins what the parts have kept. A [Result] depends on the recordings and
// the options alone, not on order, interruptions or parts, and its JSON is equal byte by
// byte. (Processors that round differently can differ in the last digit: use machines of
// one kind for the parts of one survey.)
package survey
