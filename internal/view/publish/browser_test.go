package publish_test

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"spile/internal/view/publish"
)

// reader is a browser on the published page, with every network but this machine refused. What the console says of
// errors fails the test.
type reader struct {
	*testing.T
	ctx context.Context
}

func open(t *testing.T, width int64) *reader {
	t.Helper()
	if os.Getenv("SPILE_BROWSER") == "" {
		t.Skip("make browser runs it")
	}
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		t.Skip("NOT RUN: no Chromium")
	}
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(path), chromedp.DisableGPU,
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("proxy-server", "127.0.0.1:9")}
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, cancel := chromedp.NewContext(t.Context(), chromedp.WithAllocatorOptions(options...))
	heard := make(chan struct{})
	t.Cleanup(func() { cancel(); <-heard })
	r := &reader{t, ctx}
	r.do(chromedp.EmulateViewport(width, 800))
	said := chromedp.Console(ctx)
	go func() {
		defer close(heard)
		for m, err := range said {
			if err != nil {
				return
			}
			if m.IsException() || m.Type == "error" {
				t.Errorf("console: %s", m.String())
			}
		}
	}()
	return r
}

func (r *reader) do(actions ...chromedp.Action[chromedp.Void]) {
	r.Helper()
	if err := chromedp.Do(r.ctx, actions...); err != nil {
		r.Fatal(err)
	}
}

func eval[V any](r *reader, js string) V {
	r.Helper()
	v, err := chromedp.Run(r.ctx, chromedp.Evaluate[V](js))
	if err != nil {
		r.Fatalf("%s: %v", js, err)
	}
	return v
}

// until waits for a condition on the page, and says how long that took.
func (r *reader) until(js string) time.Duration {
	r.Helper()
	from := time.Now()
	for time.Since(from) < 30*time.Second {
		if yes, err := chromedp.Run(r.ctx, chromedp.Evaluate[bool](js)); yes && err == nil {
			return time.Since(from)
		}
		time.Sleep(20 * time.Millisecond)
	}
	r.Fatalf("never: %s; the page says %q", js, eval[string](r, "document.querySelector('"+shown+" .own').innerText"))
	return 0
}

// shown is the page in the language that is shown.
const shown = "main:not([hidden])"

// enter types into a field of the page, as a reader does.
func (r *reader) enter(name, value string) {
	r.Helper()
	eval[bool](r, fmt.Sprintf(`(() => { const x = document.querySelector('%s').querySelector('[name="%s"]');
		x.value = %q; x.dispatchEvent(new Event('input', {bubbles: true})); return true; })()`, shown, name, value))
}

func (r *reader) press(what string) {
	r.Helper()
	eval[bool](r, fmt.Sprintf(`(() => { document.querySelector('%s [data-do="%s"]').click(); return true; })()`, shown, what))
}

// shoot keeps a picture where SPILE_SHOTS says.
func (r *reader) shoot(name string) {
	if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
		png, err := chromedp.Run(r.ctx, chromedp.FullScreenshot(90))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644)
		}
		if err != nil {
			r.Fatal(err)
		}
	}
}

func has(what string) string { return fmt.Sprintf("!!document.querySelector('%s %s')", shown, what) }

func TestOwnNumbersFromAFile(t *testing.T) {
	for _, width := range []int64{1280, 320} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			r := open(t, width)
			if n := os.Getenv("SPILE_THROTTLE"); n != "" {
				if _, err := chromedp.Call(r.ctx, emulation.SetCPUThrottlingRate,
					emulation.SetCPUThrottlingRateParams{Rate: 4}); err != nil {
					t.Fatal(err)
				}
			}
			from := time.Now()
			r.do(chromedp.Navigate(asFile(t)))
			t.Log("loaded", time.Since(from))
			r.until("performance.getEntriesByName('engine').length > 0")
			t.Log("engine", time.Since(from))
			r.shoot(fmt.Sprint("first-", width))
			if wide := eval[int64](r, "document.documentElement.scrollWidth"); wide > width {
				t.Errorf("the page is %d px wide", wide)
			}
			r.enter("1.taps", "3200")
			r.enter("wage", "31")
			t.Log("ranked", r.until(has("[data-own] .marks")), time.Since(from))
			t.Log("chances", r.until(has("[data-own] .t-single-season")), time.Since(from))
			text := eval[string](r, "document.querySelector('"+shown+" [data-own]').innerText")
			if !strings.Contains(text, "3,200") {
				t.Errorf("no word of 3,200 taps: %s", text)
			}
			r.shoot(fmt.Sprint("own-", width))
			eval[bool](r, "performance.clearMarks() || true")
			r.enter("wage", "26")
			t.Log("again", r.until("performance.getEntriesByName('rank').length > 0"),
				r.until("performance.getEntriesByName('sure').length > 0"))
			r.press("plan")
			t.Log("planned", r.until(has("[data-plan] .side")))
			r.until("document.querySelector('" + shown + " [data-status]').textContent === ''")
			r.shoot(fmt.Sprint("plan-", width))
		})
	}
}

// Without a script the station's answer stands, in the language that the address names, and prints.
func TestWithoutAScript(t *testing.T) {
	r := open(t, 360)
	if _, err := chromedp.Call(r.ctx, emulation.SetScriptExecutionDisabled,
		emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	r.do(chromedp.Navigate(asFile(t) + "#fr"))
	r.do(chromedp.WaitVisible("main#fr .lead"), chromedp.WaitNotVisible("main#en .lead"))
	r.shoot("bare-fr")
	pdf, err := chromedp.Call(r.ctx, page.PrintToPDF, page.PrintToPDFParams{})
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(pdf.Data, []byte("%PDF")) {
		t.Errorf("it prints %.20q", pdf.Data)
	}
	if dir := os.Getenv("SPILE_SHOTS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "bare.pdf"), pdf.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// On a web host the engine and the evidence stand beside the page, and nothing else is asked for.
func TestAFolderOnAHost(t *testing.T) {
	r := open(t, 1280)
	a, z := found()
	parts, err := publish.Folder(a, z, options)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for name, data := range parts {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var mu sync.Mutex
	asked := map[string]int{}
	files := http.FileServer(http.Dir(dir))
	host := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		mu.Lock()
		asked[q.URL.Path]++
		mu.Unlock()
		files.ServeHTTP(w, q)
	}))
	t.Cleanup(host.Close)
	r.do(chromedp.Navigate(host.URL + "/#lang=fr&units=metric&1.taps=3200&wage=31,5"))
	r.until(has("[data-own] .t-single-season"))
	mu.Lock()
	defer mu.Unlock()
	delete(asked, "/favicon.ico")
	if want := map[string]int{"/": 1, "/engine.bin": 1, "/evidence.bin": 1}; !maps.Equal(asked, want) {
		t.Errorf("it asked for %v, and may for %v", asked, want)
	}
}
