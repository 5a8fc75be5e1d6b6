package people

import (
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"errors"
	"strings"
	"time"
	"unicode/utf8"

	"spile/internal/note"
)

// Token is by what a program of a person's asks in their name, with their right and station as they are then.
type Token struct {
	ID    int64
	Label string // what it is for, in its owner's words
	Made  time.Time
	Used  sql.NullTime // last
}

// tokensOfOne is how many tokens a person has at the most. Common practice, no source.
const tokensOfOne = 20

// Tokens are those of a person, the oldest first.
func (p *People) Tokens(person int64) (list []Token, err error) {
	rows, err := p.db.Query(`SELECT id, label, made, used FROM token WHERE person = $1 ORDER BY id`, person)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var t Token
		if err := rows.Scan(&t.ID, &t.Label, &t.Made, &t.Used); err != nil {
			return nil, err
		}
		list = append(list, t)
	}
	return list, rows.Err()
}

// NewToken makes one. It is told this once: the database has its digest. The error is note.Faults where the label is
// none, or there are too many.
func (p *People) NewToken(person int64, label string, now time.Time) (token string, err error) {
	if label = strings.Join(strings.Fields(label), " "); label == "" || utf8.RuneCountInString(label) > 60 {
		return "", note.Faults{note.New("say in 1 to 60 characters what the token is for, such as the name of a " +
			"machine")}
	}
	token = "spile_" + rand.Text()
	digest := sha256.Sum256([]byte(token))
	made, err := p.db.Exec(`INSERT INTO token (digest, person, label, made) SELECT $1, $2, $3, $4
		WHERE (SELECT count(*) FROM token WHERE person = $2) < $5`, digest[:], person, label, now, tokensOfOne)
	if err != nil {
		return "", err
	}
	if n, err := made.RowsAffected(); err != nil || n == 0 {
		return "", errors.Join(err, note.Faults{note.New("an account has at most %d tokens; withdraw one first",
			tokensOfOne)})
	}
	return token, nil
}

// Withdraw ends a token of a person; all of them where no number is given.
func (p *People) Withdraw(person, id int64) error {
	_, err := p.db.Exec(`DELETE FROM token WHERE person = $1 AND ($2 = 0 OR id = $2)`, person, id)
	return err
}

// Holder is whose a token is who is let in; false: it is withdrawn, or none.
func (p *People) Holder(token string, now time.Time) (Person, bool, error) {
	digest := sha256.Sum256([]byte(token))
	x, err := person(p.db.QueryRow(`WITH used AS (UPDATE token SET used = $2 WHERE digest = $1 RETURNING person)
		SELECT `+columns+` FROM person WHERE id = (SELECT person FROM used)`, digest[:], now))
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, false, nil
	}
	return x, err == nil && x.May > Nothing && x.Ready, err
}
