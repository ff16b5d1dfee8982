// Package format writes quantities for people to read: numbers with a sensible
// count of significant digits, SI prefixes, signs, and decibels. Every number
// that a person sees in a report or on a terminal is written here and nowhere
// else; machine-readable files hold plain SI base units instead.
//
// A minus is the minus sign U+2212, and a no-break space U+00A0 stands between
// number and unit, as the SI Brochure (9th edition, section 5.4.3) asks.
package format
