package web

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"spile/internal/files/book"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// measured is a study of two arms.
func measured(n int, mean float64) evidence.Study {
	return evidence.Study{Name: fmt.Sprint("Study ", n), Site: fmt.Sprint("Place ", n%10), Season: 2000 + n%25,
		Arms: []evidence.Arm{
			{Practice: practice.Unsanitized, Mean: new(20.0), N: new(6.0), SD: new(3.0)},
			{Practice: practice.NewSpout, Mean: &mean, N: new(6.0), SD: new(3.0)},
		}}
}

// Who changes one of many studies sees what that does at once, on a page that says that the whole answer follows; and
// that comes, though nothing is changed any more.
func TestTheWholeAnswerFollows(t *testing.T) {
	long(t)
	patient := rest
	rest = time.Millisecond
	t.Cleanup(func() { rest = patient })
	items := []book.Item{book.Keep(*scenario().Input.Prices)}
	for n := range 510 {
		items = append(items, book.Keep(measured(n, 24*math.Exp(.1*math.Sin(float64(n))))))
	}
	d := sitBefore(t, items)
	const follows = "the whole answer follows"
	if strings.Contains(d.get("/gains"), follows) {
		t.Fatal("the first answer is not whole")
	}
	e := book.Edit{At: day(2025, 3, 15), Who: "Ada", What: "another mean", Replace: true,
		Seen: book.Sight{Change: math.MaxInt64}}
	if _, err := d.book.Save(e, book.Keep(measured(77, 60))); err != nil {
		t.Fatal(err)
	}
	w := ask(d, "GET", "/gains")
	if !strings.Contains(w.Body.String(), follows) {
		t.Error("a page is whole at once, or does not say that it is not")
	}
	tag := w.Header().Get("ETag")
	for w = ask(d, "GET", "/gains"); strings.Contains(w.Body.String(), follows); w = ask(d, "GET", "/gains") {
		time.Sleep(10 * time.Millisecond)
	}
	if w.Header().Get("ETag") == tag {
		t.Error("who has the first page is told that it has not changed")
	}
}
