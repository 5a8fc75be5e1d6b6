package note

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// Unknown says that a word is not one of those allowed, and which it may have been meant for.
func Unknown(word string, allowed []string) Note {
	if near := Near(word, allowed); near != "" {
		return New("%s is not known; did you mean %s? Allowed: %s", Quote(word), near, strings.Join(allowed, ", "))
	}
	return New("%s is not known; allowed: %s", Quote(word), strings.Join(allowed, ", "))
}

// Quote shows what a user wrote, in quotes and cut short.
func Quote(s string) string { return strconv.Quote(Shorten(s)) }

// Shorten cuts a text to its first 40 characters.
func Shorten(s string) string {
	runes := 0
	for i := range s {
		if runes == 40 {
			return s[:i] + "…"
		}
		runes++
	}
	return s
}

// Near is the allowed word that a misspelt one is closest to, or "" where none is close.
func Near(word string, allowed []string) string {
	word = strings.ToLower(strings.TrimSpace(word))
	word = strings.NewReplacer("_", "-", " ", "-").Replace(word)
	if word == "" || len(word) > 64 {
		return ""
	}
	best, at := "", 1+edits(word)
	for _, a := range allowed {
		name := strings.ReplaceAll(a, "_", "-")
		if d := distance(word, name); d < at && wordByWord(word, name) {
			best, at = a, d
		}
	}
	return best
}

// edits is how many letters of a word may be otherwise.
func edits(word string) int { return max(1, len(word)/3) }

// wordByWord is true of names each of whose words is like the other's; of such as have as many words: a river birch is
// no misspelt paper birch.
func wordByWord(a, b string) bool {
	s, t := strings.Split(a, "-"), strings.Split(b, "-")
	for i := range s {
		if len(s) == len(t) && distance(s[i], t[i]) > edits(s[i]) {
			return false
		}
	}
	return true
}

// NoFile says that there is no file of a name, and which of its folder may be meant.
func NoFile(path string) Note {
	var names []string
	entries, _ := os.ReadDir(filepath.Dir(path)) // none, where the folder is not there either
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if near := Near(filepath.Base(path), names); near != "" {
		return New("there is no such file; did you mean %s?", near).At(Where{File: path})
	}
	return New("there is no such file").At(Where{File: path})
}

// distance counts the letters to insert, drop, change or swap with their neighbour that turn a into b (the
// restricted distance of Damerau 1964, Commun. ACM 7:171).
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := range s {
		row[0] = i + 1
		for j := range t {
			cost := 1
			if s[i] == t[j] {
				cost = 0
			}
			row[j+1] = min(row[j]+1, last[j+1]+1, last[j]+cost)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(t)]
}
