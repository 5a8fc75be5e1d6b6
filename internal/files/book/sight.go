package book

import (
	"database/sql"
	"strconv"
	"strings"
)

// Sight is what somebody has seen of a workbook: all up to a change. The digest of that change, or its beginning, tells
// it from the change of the same number in another workbook, or in a copy that went another way; "" where who saw it
// cannot say.
type Sight struct {
	Change int64 // 0: nothing
	Digest string
	Beside bool // the other side of all that is crossed was shown with it
}

// sightDigits are as many of a digest as forms carry: the chance that two changes have them in common is 2^-48.
const sightDigits = 12

func sightOf(change int64, digest string) Sight {
	return Sight{Change: change, Digest: digest[:min(len(digest), sightDigits)]}
}

// Beside is what who was shown the other side of all that is crossed, too, has seen.
func Beside(s Sight) Sight {
	s.Beside = true
	return s
}

// beside is the last crossing that was shown.
func (s Sight) beside() int64 {
	if !s.Beside {
		return 0
	}
	return s.Change
}

// And is what who has seen both has seen.
func (s Sight) And(more Sight) Sight {
	both := s.Beside || more.Beside
	if more.Change > s.Change {
		s = more
	}
	s.Beside = both
	return s
}

// String is a sight as ParseSight reads it: "57-1b2c3d4e5f60", with a plus where the other side was shown.
func (s Sight) String() string {
	text := strconv.FormatInt(s.Change, 10)
	if s.Digest != "" {
		text += "-" + s.Digest
	}
	if s.Beside {
		text += "+"
	}
	return text
}

// ParseSight reads a sight; what is none has seen nothing.
func ParseSight(text string) Sight {
	text, beside := strings.CutSuffix(text, "+")
	number, digest, _ := strings.Cut(text, "-")
	change, err := strconv.ParseInt(number, 10, 64)
	if err != nil || change < 0 {
		return Sight{}
	}
	s := sightOf(change, digest)
	s.Beside = beside
	return s
}

// Sight is what one has seen who sees these contents.
func (c Contents) Sight() Sight { return sightOf(c.Change, c.proof) }

// Of is true of a sight of these contents.
func (s Sight) Of(c Contents) bool {
	return s.Change == c.Change && strings.HasPrefix(c.proof, s.Digest)
}

// here is a sight of this workbook as it stands; one of another has seen nothing of it.
func (s Sight) here(tx *sql.Tx) (Sight, error) {
	if s.Change == 0 || s.Digest == "" {
		return s, nil
	}
	var digest string
	err := tx.QueryRow(`SELECT digest FROM change WHERE id = $1`, s.Change).Scan(&digest)
	switch {
	case err == sql.ErrNoRows || err == nil && !strings.HasPrefix(digest, s.Digest):
		return Sight{}, nil
	case err != nil:
		return Sight{}, err
	}
	return s, nil
}
