package main

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"

	"spile/internal/cluster"
)

// A file goes to the woods and comes back: by a token of the account's page, over the network, side by side where both
// have changed something, and by the address of the database. Nothing that is said tells the token.
func TestServedSync(t *testing.T) {
	at := cluster.Schemas(t)()
	scenario(t)
	wrote(t, done, "", "new", at)
	wrote(t, done, "", "add", at, "evidence.csv", "prices.toml", "--who", "Ada")
	_, invited, _ := call("invite", at, "Bo Reed", "--right", "steward", "--station", "North Sugar")
	join := regexp.MustCompile(`/join/\S+`).FindString(invited)
	ctx, interrupt := context.WithCancel(t.Context())
	var said, log lines
	ended := make(chan int, 1)
	go func() {
		ended <- run(ctx, []string{"serve", at, "--addr", "127.0.0.1:0"}, &memo, &said, &log)
	}()
	site := strings.TrimSuffix(said.find(t, `http://127\.0\.0\.1:\d+/`), "/")
	jar, _ := cookiejar.New(nil)
	browser := &http.Client{Jar: jar}
	form := func(path string, values url.Values) string {
		t.Helper()
		w, err := browser.PostForm(site+path, values)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Body.Close()
		var text strings.Builder
		if _, err := io.Copy(&text, w.Body); err != nil || w.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d, %v", path, w.StatusCode, err)
		}
		return text.String()
	}
	const password = "nine sugar maples and more"
	form(join, url.Values{"password": {password}, "again": {password}})
	token := regexp.MustCompile(`spile_[A-Z2-7]+`).FindString(form("/tokens", url.Values{"label": {"laptop"}}))
	put(t, "token", token+"\n")

	sync := func(code int, part string, more ...string) {
		t.Helper()
		args := append([]string{"sync", "w.spile"}, more...)
		got, stdout, stderr := call(append(args, "--who", "Bo")...)
		if got != code || !strings.Contains(stdout+stderr, part) || strings.Contains(stdout+stderr, token) {
			t.Errorf("spile %v: exit code %d, wanted %d and %q\n%s%s", args, got, code, part, stdout, stderr)
		}
	}
	os.Remove("w.spile")
	wrote(t, done, "", "new", "w.spile")
	sync(faultyData, "there is no token", site)
	t.Setenv("SPILE_TOKEN", "spile_NONE")
	sync(faultyData, "does not know the token", site)
	t.Setenv("SPILE_TOKEN", token)
	sync(done, "both sides hold the same", site)
	t.Setenv("SPILE_TOKEN", "")
	sync(done, "both sides hold the same", site, "--token", "token")
	sync(faultyCall, "is not encrypted", "http://maple.example.org", "--token", "token")
	sync(faultyCall, "no address of a workbench", site+"/gains?wage=31", "--token", "token")
	sync(faultyData, "does not answer", "http://127.0.0.1:1", "--token", "token")
	sync(faultyData, "cannot be read", site, "--token", "nowhere")

	digest := func(book string) string {
		_, stdout, _ := call("check", book)
		return regexp.MustCompile(`[0-9a-f]{64}`).FindString(stdout)
	}
	if a, b := digest("w.spile"), digest(at); a == "" || a != b {
		t.Errorf("%s and %s", a, b)
	}
	// both change the prices; the file has a study more, which becomes the station's
	prices, _ := os.ReadFile("prices.toml")
	changed := func(wage string) {
		put(t, "prices.toml", regexp.MustCompile(`(?m)^wage *= *.*$`).ReplaceAllString(string(prices), "wage = "+wage))
	}
	changed("31.0")
	wrote(t, done, "replaced", "add", "w.spile", "prices.toml", "--replace", "--who", "Bo")
	changed("33.0")
	wrote(t, done, "replaced", "add", at, "prices.toml", "--replace", "--who", "Ada")
	table, _ := os.ReadFile("evidence.csv")
	put(t, "more.csv", strings.Split(string(table), "\n")[0]+"\n"+
		regexp.MustCompile(`(?m)^`).ReplaceAllString(strings.Join(strings.Split(string(table), "\n")[1:3], "\n"), "In the woods "))
	wrote(t, done, "added", "add", "w.spile", "more.csv", "--who", "Bo")
	sync(faultyData, "side by side", site, "--token", "token")
	sync(faultyData, "side by side", site, "--token", "token")
	changed("35.0")
	code, _, stderr := call("add", "w.spile", "prices.toml", "--replace", "--who", "Bo")
	if code != faultyData || !strings.Contains(stderr, "side by side") {
		t.Errorf("what was not shown is overwritten: %d, %s", code, stderr)
	}
	if page := form("/tokens", url.Values{"label": {"another"}}); !strings.Contains(page, "laptop") {
		t.Error("the page does not list the token")
	}
	interrupt()
	<-ended
	sync(faultyData, "does not answer", site, "--token", "token")
	sync(faultyData, "side by side", at)
	if strings.Contains(log.text.String(), token) || strings.Contains(said.text.String(), token) {
		t.Error("the token is told")
	}
}
