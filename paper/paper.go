// Package paper holds the fonts.
package paper

// Family is the CSS name of the family that pages, figures and PDF share.
const Family = "Literata"
