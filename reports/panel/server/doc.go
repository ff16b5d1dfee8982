// Package server is a blind listening panel: a local web server that plays three
// intervals, two of which are equal, and asks which is the odd one out, and the
// statistics of the answers.
//
// A [Server] serves the pages of one rendered set to any number of listeners at
// once and keeps every answer in a [Store], one SQLite file. [Evaluate] turns a
// store into [Results], which write themselves as a printable page and as CSV.
//
// The test is double blind. The order of every trial comes from the system's
// cryptographic randomness, is stored before the page learns that the trial
// exists, and stays on the server until the answer is final. Clips have random
// names, equal lengths and headers, and each is dithered on its own, so that
// two clips of the same sound are not the same bytes. That blinds the listener
// and the page; it cannot blind somebody who takes the delivered samples apart
// with other software.
//
// Levels of the stimulus are the residual in decibels as [Clips] reports it,
// currents amperes, bias volts.
package server
