// Package measure turns recordings into figures as the standards define them:
// what kind of test signal a recording holds, the figures that fit it, each with
// its definition and its uncertainty, and, given what went in, what a device
// added to it.
//
// Results are plain data for tables, JSON and pages. What could not be measured
// is absent, and a warning says why.
//
// The same results are written as a table for a terminal, as JSON and as a page.
package measure
