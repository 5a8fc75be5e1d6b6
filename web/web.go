// Package web serves the workbench: the four pages over one input, where any assumption can be tried.
package web

import (
	"net/http"

	"spile/advice"
	"spile/say"
)

// Config is what the workbench stands on.
type Config struct {
	Input   advice.Input
	Voice   *say.Voice // nil: English, US units
	Version string     // of the program, for the foot of a page and the report
	Hosts   []string   // names besides loopback that a request may ask for, without port
}

// New is the workbench. The error is note.Faults where the input itself is at fault.
func New(c Config) (http.Handler, error) {
	return http.NotFoundHandler(), nil
}
