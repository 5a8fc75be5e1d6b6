// Package people is who may do what in a workbook on a server: persons with a right, the invitations by which they set
// a password, and what slows who guesses one.
package people

import (
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"errors"
	netmail "net/mail"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/postgresstore"
	"github.com/alexedwards/scs/v2"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/station"
)

// Right is what a person may do. Each holds those before it.
type Right int

// The rights.
const (
	Nothing  Right = iota // no longer let in
	Reader                // sees everything, but for what is another station's alone
	Recorder              // and enters readings of trials
	Editor                // and changes everything else
	Steward               // and says who may do what
)

// Rights are their words, by which they are kept and asked for.
var Rights = []string{"nothing", "reader", "recorder", "editor", "steward"}

func (r Right) String() string { return Rights[r] }

// RightOf is the right of a word; false: there is none.
func RightOf(word string) (Right, bool) {
	i := slices.Index(Rights, word)
	return Right(max(i, 0)), i >= 0
}

// Person is one who has an account.
type Person struct {
	ID    int64
	Name  string // as the history has it
	May   Right
	Ready bool  // a password is set, or an institution has named them
	Epoch int64 // sessions of another have ended

	Station string // what they see and keep is that of its people; "": they are of none
	Mail    string // by which an institution names them the first time; "": it does not
	Bound   bool   // it has
}

// People are those of one workbook.
type People struct{ db *sql.DB }

// Sessions is where the sessions of who has signed in are kept, by the digests of their tokens.
func (p *People) Sessions() scs.Store {
	return postgresstore.NewWithConfig(p.db, postgresstore.Config{TableName: "session", CleanUpInterval: time.Hour})
}

// Awake says why the database does not answer, if it does not.
func (p *People) Awake() error { return p.db.Ping() }

// Of are the people of a workbook; nil: it is in a file, which knows none.
func Of(b *book.Book) *People {
	if db := b.Server(); db != nil {
		return &People{db}
	}
	return nil
}

// What the numbers are is common practice, no source, but where one is named.
const (
	Shortest   = 12 // characters of a password
	longest    = 1000
	invitation = 7 * 24 * time.Hour // how long an invitation is good

	wrongOfName = 5  // wrong tries for a name that cost no wait
	wrongOfFrom = 20 // and from one address of the network
	longestWait = 15 * time.Minute
)

// hashing is by argon2id, with the memory and the turns of the OWASP Password Storage Cheat Sheet (19 MiB, 2, 1).
var hashing = &argon2id.Params{Memory: 19 << 10, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// atOnce is how many passwords are looked at at once, each of which takes that memory.
var atOnce = make(chan struct{}, 4)

// nobodys is looked at where there is no such person, so that it takes as long.
var nobodys = sync.OnceValue(func() string {
	hash, err := argon2id.CreateHash(rand.Text(), hashing)
	if err != nil {
		panic(err) // never, by crypto/rand
	}
	return hash
})

// What sign-in says. It is the same for a name that there is and one that there is not.
var (
	ErrWrong = errors.New("name and password do not belong together")
	ErrSlow  = errors.New("too many wrong tries")
)

const columns = `id, name, may, hash IS NOT NULL OR subject IS NOT NULL, epoch, station, mail, subject IS NOT NULL`

func person(row interface{ Scan(...any) error }) (p Person, err error) {
	var may string
	err = row.Scan(&p.ID, &p.Name, &may, &p.Ready, &p.Epoch, &p.Station, &p.Mail, &p.Bound)
	p.May, _ = RightOf(may)
	return p, err
}

// All are the people by their names, those who are no longer let in too.
func (p *People) All() (list []Person, err error) {
	rows, err := p.db.Query(`SELECT ` + columns + ` FROM person ORDER BY folded`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		x, err := person(rows)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	return list, rows.Err()
}

// Get is a person who is let in, by what a session holds; false: it has ended.
func (p *People) Get(id, epoch int64) (Person, bool, error) {
	x, err := person(p.db.QueryRow(`SELECT `+columns+` FROM person WHERE id = $1 AND epoch = $2`, id, epoch))
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, false, nil
	}
	return x, err == nil && x.May > Nothing && x.Ready, err
}

func fold(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// Invite lets a person in who sets a password by the token that is given, once and within a week, or whom an
// institution names by an address of mail (""; none, or the one that there is). One of that name has the new
// right and station from now on; sessions and password stay until the token is used. The error is note.Faults where a
// name or an address is none, or the address is another's.
func (p *People) Invite(name, of, mail string, may Right, now time.Time) (token string, err error) {
	if of, err = stationOf(of); err != nil {
		return "", err
	}
	name = strings.Join(strings.Fields(name), " ")
	if name == "" || len(name) > 100 || !utf8.ValidString(name) ||
		strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) {
		return "", note.Faults{note.New("a person's name has 1 to 100 characters")}
	}
	if mail = foldMail(mail); mail != "" {
		if a, err := netmail.ParseAddress(mail); err != nil || a.Address != mail || len(mail) > 254 {
			return "", note.Faults{note.New("%s is no address of mail; allowed: such as ada@example.org",
				note.Quote(mail))}
		}
	}
	token = rand.Text()
	err = p.change(func(tx *sql.Tx) error {
		var id int64
		var taken bool
		if err := tx.QueryRow(`SELECT EXISTS (SELECT FROM person WHERE mail = $1 AND mail <> '' AND folded <> $2)`, mail,
			fold(name)).Scan(&taken); err != nil {
			return err
		}
		if taken {
			return note.Faults{note.New("another account was invited by that address")}
		}
		if err := tx.QueryRow(`INSERT INTO person AS p (name, folded, may, station, mail) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT (folded) DO UPDATE SET may = excluded.may, station = excluded.station,
				mail = CASE excluded.mail WHEN '' THEN p.mail ELSE excluded.mail END,
				issuer = CASE excluded.mail WHEN '' THEN p.issuer WHEN p.mail THEN p.issuer END,
				subject = CASE excluded.mail WHEN '' THEN p.subject WHEN p.mail THEN p.subject END
			RETURNING id`,
			name, fold(name), may.String(), of, mail).
			Scan(&id); err != nil {
			return err
		}
		digest := sha256.Sum256([]byte(token))
		_, err := tx.Exec(`INSERT INTO invitation VALUES ($1, $2, $3)
			ON CONFLICT (person) DO UPDATE SET token = excluded.token, until = excluded.until`,
			digest[:], id, now.Add(invitation))
		return err
	})
	return token, err
}

// change does what may leave no steward, and undoes it where it has.
func (p *People) change(do func(*sql.Tx) error) error {
	tx, err := p.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.Exec(`LOCK TABLE person IN SHARE ROW EXCLUSIVE MODE`); err != nil {
		return err
	}
	var before, after int
	count := `SELECT count(*) FROM person WHERE may = 'steward'`
	if err := errors.Join(tx.QueryRow(count).Scan(&before), do(tx), tx.QueryRow(count).Scan(&after)); err != nil {
		return err
	}
	if before > 0 && after == 0 {
		return note.Faults{note.New("nobody would say who may do what; allowed: another steward first")}
	}
	return tx.Commit()
}

func foldMail(mail string) string { return strings.ToLower(strings.TrimSpace(mail)) }

// Named is whom an institution names: known by its subject, or by the address that it vouches for (""; for none), which
// is bound to the subject then. False: nobody who is let in.
func (p *People) Named(issuer, subject, mail string) (Person, bool, error) {
	x, err := person(p.db.QueryRow(`SELECT `+columns+` FROM person WHERE issuer = $1 AND subject = $2`, issuer, subject))
	if errors.Is(err, sql.ErrNoRows) && mail != "" {
		x, err = person(p.db.QueryRow(`UPDATE person SET issuer = $1, subject = $2
			WHERE mail = $3 AND mail <> '' AND subject IS NULL AND may <> 'nothing' RETURNING `+columns, issuer, subject,
			foldMail(mail)))
	}
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, false, nil
	}
	return x, err == nil && x.May > Nothing, err
}

// Any is true where somebody is let in, or will be once a password is set.
func (p *People) Any() (any bool, err error) {
	err = p.db.QueryRow(`SELECT EXISTS (SELECT FROM person WHERE may <> 'nothing')`).Scan(&any)
	return any, err
}

// Set gives a person another right and station. Sessions go on with them, or end where the right is nothing.
func (p *People) Set(id int64, of string, may Right) error {
	of, err := stationOf(of)
	if err != nil {
		return err
	}
	return p.change(func(tx *sql.Tx) error {
		_, err := tx.Exec(`UPDATE person SET may = $2, station = $3 WHERE id = $1`, id, may.String(), of)
		return err
	})
}

// stationOf is a station's name as it is kept. The error is note.Faults where it is none.
func stationOf(typed string) (string, error) {
	if name := station.Name(typed); len(name) <= 100 && utf8.ValidString(name) &&
		!strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) {
		return name, nil
	}
	return "", note.Faults{note.New("a station's name has at most 100 characters")}
}

// End ends all sessions of a person.
func (p *People) End(id int64) error {
	_, err := p.db.Exec(`UPDATE person SET epoch = epoch + 1 WHERE id = $1`, id)
	return err
}

// Invited is whose a token is; false: it is used, too old, or none.
func (p *People) Invited(token string, now time.Time) (Person, bool, error) {
	digest := sha256.Sum256([]byte(token))
	x, err := person(p.db.QueryRow(`SELECT `+columns+` FROM person WHERE may <> 'nothing' AND id =
		(SELECT person FROM invitation WHERE token = $1 AND until > $2)`, digest[:], now))
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, false, nil
	}
	return x, err == nil, err
}

// Join sets the password of who has a token, which is used up, and ends the sessions and tokens that there
// are. The error is note.Faults where the password is none.
func (p *People) Join(token, password string, now time.Time) (Person, bool, error) {
	if n := utf8.RuneCountInString(password); n < Shortest || len(password) > longest {
		return Person{}, true, note.Faults{note.New("a password has at least %d characters; several words are good",
			Shortest)}
	}
	x, ok, err := p.Invited(token, now)
	if err != nil || !ok {
		return x, ok, err
	}
	atOnce <- struct{}{}
	hash, err := argon2id.CreateHash(password, hashing)
	<-atOnce
	if err != nil {
		return x, true, err
	}
	digest := sha256.Sum256([]byte(token))
	x, err = person(p.db.QueryRow(`WITH used AS
		(DELETE FROM invitation WHERE token = $1 AND until > $2 RETURNING person)
		UPDATE person SET hash = $3, epoch = epoch + 1 FROM used WHERE id = used.person RETURNING `+columns,
		digest[:], now, hash))
	if errors.Is(err, sql.ErrNoRows) {
		return Person{}, false, nil // another was quicker
	}
	if err == nil {
		err = p.Withdraw(x.ID, 0)
	}
	return x, err == nil, err
}

// Enter is who a name and a password belong to, asked from an address of the network. The error is ErrWrong or ErrSlow,
// alike for names that there are and that there are not.
func (p *People) Enter(name, password, from string, now time.Time) (Person, error) {
	ofName, ofFrom := "name "+digest(fold(name)), "from "+digest(from)
	for key, free := range map[string]int{ofName: wrongOfName, ofFrom: wrongOfFrom} {
		if ok, err := p.tried(key, free, now); err != nil || !ok {
			return Person{}, errors.Join(err, ErrSlow)
		}
	}
	x, hash := Person{}, sql.NullString{}
	err := p.db.QueryRow(`SELECT id, hash FROM person WHERE folded = $1 AND may <> 'nothing'`, fold(name)).
		Scan(&x.ID, &hash)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return Person{}, err
	}
	against := nobodys()
	if hash.Valid {
		against = hash.String
	}
	if len(password) > longest {
		return Person{}, ErrWrong
	}
	atOnce <- struct{}{}
	same, err := argon2id.ComparePasswordAndHash(password, against)
	<-atOnce
	if err != nil || !same || !hash.Valid {
		return Person{}, errors.Join(err, ErrWrong)
	}
	if _, err := p.db.Exec(`DELETE FROM attempt WHERE key = $1`, ofName); err != nil {
		return Person{}, err
	}
	if _, err := p.db.Exec(`UPDATE attempt SET wrong = wrong - 1 WHERE key = $1`, ofFrom); err != nil {
		return Person{}, err
	}
	return person(p.db.QueryRow(`SELECT `+columns+` FROM person WHERE id = $1`, x.ID))
}

// digest is of a fixed length, whatever is typed.
func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return base64.RawStdEncoding.EncodeToString(sum[:])
}

// tried counts a try, as a wrong one until it is known to be right; false: it comes too soon. Beyond the free ones the
// wait doubles with each, from a second to a quarter of an hour, and an hour without a try forgets them. Counting and
// asking are one statement, so that many tries at once are no way around.
func (p *People) tried(key string, free int, now time.Time) (bool, error) {
	var wrong int
	err := p.db.QueryRow(`INSERT INTO attempt AS a (key, wrong, at) VALUES ($1, 1, $2)
		ON CONFLICT (key) DO UPDATE SET wrong = CASE WHEN a.at < $3 THEN 1 ELSE a.wrong + 1 END, at = $2
		WHERE a.wrong < $4 OR a.at + make_interval(secs => least($5, power(2, least(a.wrong - $4, 30)))) <= $2
		RETURNING wrong`, key, now, now.Add(-time.Hour), free, longestWait.Seconds()).Scan(&wrong)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}
