// Package report measures a rendered set and shows what it found: a report model
// with its schema version, written as JSON, as CSV and as a page.
//
// A set's folder is all that [Build] needs. Files are streamed: memory does
// not grow with their length, but for what the ear model hears whole, items up
// to a minute.
//
// report.html is one page beside the audio that says what each bias did, lets it
// be heard, and shows it. It opens from the disc, offline, and asks the network
// for nothing. Everything is inside it but the sound: since a page opened from the
// disc cannot read WAV files, an excerpt of each item stands in a script file beside
// it (clips/N.js), which is loaded when the item is first played. Text from files
// (names, titles, warnings) reaches the page through html/template and the escaping
// of reports/view/plot only, and the page's content security policy admits no script
// but its own.
package report
