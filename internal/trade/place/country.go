//go:build !js

package place

import (
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
)

// country is the name of one, in English or French.
func country(code string, french bool) string {
	if french {
		return display.French.Regions().Name(language.MustParseRegion(code))
	}
	return display.English.Regions().Name(language.MustParseRegion(code))
}
