package web

import (
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"
)

// Watch writes down what a workbench answers, and counts it. It is safe for use by several goroutines.
type Watch struct {
	log *slog.Logger

	mu    sync.Mutex
	took  [len(bounds) + 1]int64 // answers, by the first bound that they keep
	codes map[int]int64
	sum   float64 // of the seconds
}

// bounds are of the seconds that an answer takes.
var bounds = [...]float64{.01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10}

// NewWatch is a watch that writes into a log.
func NewWatch(log *slog.Logger) *Watch { return &Watch{log: log, codes: map[int]int64{}} }

// Over watches what a handler answers. Of an address only the first part is written down: what comes behind it may be
// an invitation, or the name of a sugarbush. Cookies, forms and who asks are not written down either: who changed what
// stands in the history.
func (x *Watch) Over(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		said := &saying{ResponseWriter: w, code: http.StatusOK}
		begin := time.Now()
		defer func() {
			failed := recover() // the server ends the connection, and writes nothing down that could be read
			if failed != nil {
				said.code = http.StatusInternalServerError
			}
			x.answered(r, said, time.Since(begin))
			if failed != nil {
				panic(failed)
			}
		}()
		next.ServeHTTP(said, r)
	})
}

func (x *Watch) answered(r *http.Request, said *saying, took time.Duration) {
	first, _, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
	level := slog.LevelInfo
	if said.code >= http.StatusInternalServerError {
		level = slog.LevelError
	}
	x.log.LogAttrs(r.Context(), level, "answered", slog.String("method", r.Method), slog.String("at", "/"+first),
		slog.Int("code", said.code), slog.Int64("bytes", said.bytes),
		slog.Float64("ms", float64(took.Microseconds())/1000))
	at, _ := slices.BinarySearch(bounds[:], took.Seconds())
	x.mu.Lock()
	defer x.mu.Unlock()
	x.took[at]++
	x.codes[said.code]++
	x.sum += took.Seconds()
}

// ServeHTTP tells the counters in Prometheus's text format
// (https://prometheus.io/docs/instrumenting/exposition_formats/).
func (x *Watch) ServeHTTP(w http.ResponseWriter, _ *http.Request) {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	x.mu.Lock()
	defer x.mu.Unlock()
	fmt.Fprint(w, "# TYPE spile_answers_total counter\n")
	for _, code := range slices.Sorted(maps.Keys(x.codes)) {
		fmt.Fprintf(w, "spile_answers_total{code=\"%d\"} %d\n", code, x.codes[code])
	}
	fmt.Fprint(w, "# TYPE spile_answer_seconds histogram\n")
	total := int64(0)
	for i, n := range x.took {
		total += n
		bound := "+Inf"
		if i < len(bounds) {
			bound = fmt.Sprint(bounds[i])
		}
		fmt.Fprintf(w, "spile_answer_seconds_bucket{le=%q} %d\n", bound, total)
	}
	fmt.Fprintf(w, "spile_answer_seconds_sum %g\nspile_answer_seconds_count %d\n", x.sum, total)
	fmt.Fprintf(w, "# TYPE spile_heap_bytes gauge\nspile_heap_bytes %d\n", m.HeapInuse)
	fmt.Fprintf(w, "# TYPE spile_goroutines gauge\nspile_goroutines %d\n", runtime.NumGoroutine())
}

// saying remembers what was answered.
type saying struct {
	http.ResponseWriter
	code  int
	bytes int64
	began bool
}

func (s *saying) WriteHeader(code int) {
	if !s.began && code >= 200 {
		s.code, s.began = code, true
	}
	s.ResponseWriter.WriteHeader(code)
}

func (s *saying) Write(p []byte) (int, error) {
	s.began = true
	n, err := s.ResponseWriter.Write(p)
	s.bytes += int64(n)
	return n, err
}

// Unwrap is for http.ResponseController.
func (s *saying) Unwrap() http.ResponseWriter { return s.ResponseWriter }
