// Package reports measures a rendered set and holds what it found: the report
// model with its schema version, its JSON and its CSV. Drawing is in
// reports/plot, the HTML page in reports/page, and the wording of numbers in
// reports/format.
//
// A set's folder is all that [Build] needs. Files are streamed: memory does
// not grow with their length, but for what the ear model hears whole, items up
// to a minute.
package reports
