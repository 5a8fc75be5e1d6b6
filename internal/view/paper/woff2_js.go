package paper

// WOFF2 is nothing in a browser, whose page has brought the fonts.
func (s Style) WOFF2() []byte { return nil }
