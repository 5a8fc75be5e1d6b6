package report

import (
	"spile/advice"
	"spile/paper"
	"spile/say"
)

// Slides is a talk.
func Slides(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	return paper.NewFlow(About(a, v, version), look()).Bytes()
}
