package page

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Fresh is true where a reader has what an address gives over this state, which is then the answer: nothing is worked
// out for it. Else the answer carries the tag by which that will be told.
func (s *Site) Fresh(w http.ResponseWriter, r *http.Request) bool {
	tag := `W/"` + digest([]byte(s.tag()+r.URL.RequestURI())) + `"` // weak: it may be sent packed or not
	w.Header().Set("ETag", tag)
	for have := range strings.SplitSeq(r.Header.Get("If-None-Match"), ",") {
		if strings.TrimSpace(have) == tag {
			w.Header().Del("Content-Security-Policy") // the page keeps the one that it came with
			w.WriteHeader(http.StatusNotModified)
			return true
		}
	}
	return false
}

// digest is of all that the answers rest on: in one run, files stay as they are, and a workbook is told by what is seen
// of it.
func (s *Site) digest() string {
	return digest(fmt.Append(nil, s.Input.Sources, s.Have.Change, s.Have.Notes, s.Voice.Lang(), s.Voice.Units(),
		s.Version, s.Kit.began, s.Base != nil && s.Base.Held))
}

// IfNew answers where a reader has not the answer.
func (s *Site) IfNew(do http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.Fresh(w, r) {
			do(w, r)
		}
	}
}

// Send answers with a body, or with nothing where the reader has it already.
func Send(w http.ResponseWriter, r *http.Request, kind string, body []byte) {
	w.Header().Set("Content-Type", kind)
	if w.Header().Get("ETag") == "" {
		w.Header().Set("ETag", `W/"`+digest(body)+`"`)
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}

// leastPacked is the length from which text is sent packed.
const leastPacked = 1024

// packed sends text packed to who takes it so. What is not to be stored goes as it is: pages that may hold a secret, a
// code for phones, must not tell of it by how well it packs beside what somebody else put into the address (Gluck,
// Harris & Prado 2013, BREACH).
func packed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if !takesGzip(r.Header.Get("Accept-Encoding")) || r.Method == http.MethodHead || r.Header.Get("Range") != "" {
			next.ServeHTTP(w, r)
			return
		}
		p := &packer{ResponseWriter: w}
		defer p.close()
		next.ServeHTTP(p, r)
	})
}

// takesGzip reads an Accept-Encoding (RFC 9110, section 12.5.3).
func takesGzip(accepts string) bool {
	for one := range strings.SplitSeq(accepts, ",") {
		name, weight, _ := strings.Cut(one, ";")
		if name = strings.TrimSpace(name); name == "gzip" || name == "*" {
			_, q, _ := strings.Cut(weight, "q=")
			x, err := strconv.ParseFloat(strings.TrimSpace(q), 64)
			return err != nil || x > 0
		}
	}
	return false
}

// packer packs an answer once its header says that it is worth it.
type packer struct {
	http.ResponseWriter
	begun bool
	zip   *gzip.Writer
}

var packers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // a reader waits for it
	return z
}}

func (p *packer) WriteHeader(code int) {
	h := p.Header()
	kind, _, _ := strings.Cut(h.Get("Content-Type"), ";")
	length, err := strconv.Atoi(h.Get("Content-Length"))
	text := strings.HasPrefix(kind, "text/") || kind == "image/svg+xml" || kind == "application/json"
	whole := code == http.StatusOK || code >= 400
	if !p.begun && text && whole && (err != nil || length >= leastPacked) &&
		h.Get("Content-Encoding") == "" && h.Get("Cache-Control") != "no-store" {
		h.Set("Content-Encoding", "gzip")
		h.Del("Content-Length")
		h.Del("Accept-Ranges")
		p.zip = packers.Get().(*gzip.Writer)
		p.zip.Reset(p.ResponseWriter)
	}
	p.begun = true
	p.ResponseWriter.WriteHeader(code)
}

func (p *packer) Write(b []byte) (int, error) {
	if !p.begun {
		p.WriteHeader(http.StatusOK)
	}
	if p.zip != nil {
		return p.zip.Write(b)
	}
	return p.ResponseWriter.Write(b)
}

// Unwrap is for http.ResponseController.
func (p *packer) Unwrap() http.ResponseWriter { return p.ResponseWriter }

func (p *packer) close() {
	if p.zip != nil {
		p.zip.Close()
		packers.Put(p.zip)
	}
}
