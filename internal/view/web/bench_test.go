package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"
)

// BenchmarkAssumption is one assumption changed, to the page with its figure drawn again: the request of the form,
// the address it is sent on to, and that page. A new value every time, so that no answer is kept from before.
func BenchmarkAssumption(b *testing.B) {
	for _, page := range []string{"/profit", "/rotation"} {
		b.Run(page[1:], func(b *testing.B) {
			h := served()
			var took []time.Duration
			n := 0
			for b.Loop() {
				n++
				start := time.Now()
				w := ask(h, "GET", fmt.Sprintf("%s?last=&discount=5&wage=%.4f", page, 20+float64(n)/1000))
				if w.Code != http.StatusSeeOther {
					b.Fatal(w.Code)
				}
				if w = ask(h, "GET", w.Header().Get("Location")); w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

// BenchmarkUncertain is one assumption changed, to the page on what is not sure with its figures drawn again: a quick
// look while the number is being changed, and all of it when it rests.
func BenchmarkUncertain(b *testing.B) {
	for name, address := range map[string]string{
		"sure/quick": "/sure?moving=yes&wage=%.4f", "sure/full": "/sure?wage=%.4f",
		"trial/taps": "/next-trial?concerned=%.4f", "trial/quick": "/next-trial?moving=yes&wage=%.4f",
		"trial/full": "/next-trial?wage=%.4f",
	} {
		b.Run(name, func(b *testing.B) {
			h := served()
			var took []time.Duration
			n := 0
			for b.Loop() {
				n++
				start := time.Now()
				w := ask(h, "GET", fmt.Sprintf(address, 20+float64(n)/1000))
				for w.Code == http.StatusSeeOther {
					w = ask(h, "GET", w.Header().Get("Location"))
				}
				if w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

// BenchmarkStudyLeftOut is one study left out, which fits the model again.
func BenchmarkStudyLeftOut(b *testing.B) {
	h := served()
	n := 0
	for b.Loop() {
		s := scenario().Studies[n%len(scenario().Studies)]
		q := "/gains?exclude=" + url.QueryEscape(s.Name) + "&longest=" + fmt.Sprint(1+n/len(scenario().Studies)%30)
		n++
		if w := ask(h, "GET", q); w.Code != http.StatusOK && w.Code != http.StatusSeeOther {
			b.Fatal(w.Code, q)
		}
	}
}
