// Package page writes report.html: one page beside the audio of a rendered set
// that says what each bias did, lets it be heard, and shows it.
//
// The page opens from the disc, offline, and asks the network for nothing.
// Everything is inside it but the sound: since a page opened from the disc
// cannot read WAV files, an excerpt of each item stands in a script file beside
// it (clips/N.js), which is loaded when the item is first played.
//
// Text from files (names, titles, warnings) reaches the page through
// html/template and the escaping of reports/plot only, and the page's content
// security policy admits no script but its own.
package page
