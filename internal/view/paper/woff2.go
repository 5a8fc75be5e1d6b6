//go:build !js

package paper

import _ "embed"

var (
	//go:embed regular.woff2
	regularWOFF2 []byte
	//go:embed bold.woff2
	boldWOFF2 []byte
	//go:embed italic.woff2
	italicWOFF2 []byte
)

// WOFF2 is the cut for pages. It must not be changed.
func (s Style) WOFF2() []byte { return [][]byte{regularWOFF2, boldWOFF2, italicWOFF2}[s] }
