package book

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"sync"
	"testing"

	"modernc.org/sqlite"
)

// meanwhile is done while a row is written into a workbook on which a test put the trigger.
var meanwhile = func() error { return errors.New("nothing was to be done") }

var registered = sync.OnceValue(func() error {
	return sqlite.RegisterScalarFunction("meanwhile", 0,
		func(*sqlite.FunctionContext, []driver.Value) (driver.Value, error) { return nil, meanwhile() })
})

// Who writes to a file does not wait for who copies it, however long that takes; what came meanwhile is not in the
// copy.
func TestWritingDuringACopy(t *testing.T) {
	ofFiles(t)
	if err := registered(); err != nil {
		t.Fatal(err)
	}
	b := fresh(t)
	for n := range 3 {
		save(t, b, by("Ada", int64(n)), Keep(study(fmt.Sprint("A", n), 20)))
	}
	other := must(Open(b.Path()))
	defer other.Close()
	other.db.SetMaxOpenConns(1)
	must(other.db.Exec(`PRAGMA busy_timeout = 100`))
	to := must(Create(somewhere(t)))
	defer to.Close()
	to.db.SetMaxOpenConns(1)
	must(to.db.Exec(`CREATE TEMP TRIGGER t BEFORE INSERT ON version BEGIN SELECT meanwhile(); END`))
	n := int64(3)
	meanwhile = func() error {
		_, err := other.Save(by("Bo", n), Keep(study(fmt.Sprint("B", n), 20)))
		n++
		return err
	}
	if err := to.take(b); err != nil {
		t.Fatal(err)
	}
	if c := contents(t, to); n < 4 || len(c.Studies) != 3 || c.Change != 3 {
		t.Errorf("%d studies at change %d; %d were added meanwhile", len(c.Studies), c.Change, n-3)
	}
}
