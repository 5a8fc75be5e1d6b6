package page

import (
	"net/url"
	"strconv"
)

// Paths of pages that other rooms lead to.
const (
	ReadPath = "/trials/read" // where readings are entered
	LogPath  = "/trials/log"  // where what happens in a season, besides readings, is written down one by one
)

// StudyAddress is that of a study's form.
func StudyAddress(name string) string { return "/study?" + url.Values{"name": {name}}.Encode() }

// TrialAddress is that of a trial.
func TrialAddress(name string) string { return "/trials/of?" + url.Values{"name": {name}}.Encode() }

// SugarbushAddress is that of a sugarbush of the workbook, in its form.
func SugarbushAddress(name string) string { return "/sugarbush?" + url.Values{"of": {name}}.Encode() }

// ReadAddress is that of a season's readings.
func ReadAddress(name string, season int) string {
	return ReadPath + "?" + url.Values{"trial": {name}, "season": {strconv.Itoa(season)}}.Encode()
}

// LogAddress is that of a season's log.
func LogAddress(name string, season int) string {
	return LogPath + "?" + url.Values{"name": {name}, "season": {strconv.Itoa(season)}}.Encode()
}

// HistoryAddress is where a change stands in the history.
func HistoryAddress(change int64) string { return "/history#change-" + strconv.FormatInt(change, 10) }
