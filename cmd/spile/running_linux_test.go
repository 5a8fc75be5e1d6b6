package main

import (
	"bytes"
	"debug/elf"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"spile/internal/view/say"
)

// words are those of a line as a shell parts them, of the quotes that the docs use.
func words(line string) (list []string) {
	for _, w := range regexp.MustCompile(`'[^']*'|"[^"]*"|\S+`).FindAllString(line, -1) {
		list = append(list, strings.Trim(w, `'"`))
	}
	return list
}

// Each call of spile in the page on running it, in the unit of systemd and in the container is one that spile takes.
func TestCallsOfTheServer(t *testing.T) {
	var calls [][]string
	for _, path := range []string{"../../docs/server.md", "../../docs/spile.service", "../../docs/sync.md"} {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(text)) {
			_, unit, is := strings.Cut(line, "ExecStart=/usr/local/bin/spile ")
			if !is && !strings.HasPrefix(line, "    ") {
				continue
			}
			list := words(line)
			at := slices.Index(list, "spile")
			switch {
			case is:
				calls = append(calls, words(unit))
			case at >= 0 && (at == 0 || list[0] == "docker"):
				calls = append(calls, slices.DeleteFunc(list[at+1:], func(w string) bool { return w == "…" }))
			}
		}
	}
	if len(calls) < 8 {
		t.Errorf("only %d calls were found", len(calls))
	}
	for _, call := range calls {
		address := func(w string) bool { return strings.HasPrefix(w, "postgres:") }
		if call[0] == "serve" && !slices.ContainsFunc(call, address) {
			call = slices.Insert(call, 1, "postgres://spile@localhost/maple")
		}
		if _, err := parsed(t, say.In("en")).Parse(call); err != nil && !strings.Contains(err.Error(), "no such file") {
			t.Errorf("spile %s: %v", strings.Join(call, " "), err)
		}
	}
}

// systemd takes the unit as it is.
func TestUnit(t *testing.T) {
	text, err := os.ReadFile("../../docs/spile.service")
	if err != nil {
		t.Fatal(err)
	}
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd is not here")
	}
	path := filepath.Join(t.TempDir(), "spile.service")
	here := bytes.ReplaceAll(text, []byte("/usr/local/bin/spile"), []byte("/bin/true"))
	if err := os.WriteFile(path, here, 0o644); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command(tool, "verify", path).CombinedOutput(); err != nil || len(said) > 0 {
		t.Errorf("%v: %s", err, said)
	}
}

// The steps of the container file, done by hand: in an empty root folder with the files that it copies, as its user,
// the binary keeps a workbook and serves it.
func TestContainer(t *testing.T) {
	if os.Getenv("SPILE_FAULTS") == "" {
		t.Skip("SPILE_FAULTS is not set")
	}
	if os.Getuid() != 0 {
		t.Skip("another root folder takes root")
	}
	text, err := os.ReadFile("../../docs/Containerfile")
	if err != nil {
		t.Fatal(err)
	}
	root, beside := t.TempDir(), t.TempDir()
	build := exec.Command("go", "build", "-trimpath", "-o", filepath.Join(beside, "spile"), ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if said, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, said)
	}
	var entry string
	var user uint32
	for line := range strings.Lines(string(text)) {
		list := strings.Fields(line)
		switch {
		case len(list) == 0 || list[0] == "#":
		case list[0] == "FROM" && list[1] == "scratch":
		case list[0] == "COPY" && len(list) == 3:
			data, err := os.ReadFile(filepath.Join(beside, list[1]))
			if err == nil {
				err = os.WriteFile(filepath.Join(root, list[2]), data, 0o755)
			}
			if err != nil {
				t.Fatal(err)
			}
		case line == "USER 65534:65534\n":
			user = 65534
		case list[0] == "ENTRYPOINT":
			entry = strings.Trim(list[1], `[]"`)
		default:
			t.Fatalf("nobody has done this step by hand: %s", line)
		}
	}
	if x, err := elf.Open(filepath.Join(root, entry)); err != nil || x.Section(".interp") != nil {
		t.Fatalf("it needs a loader, or is none: %v", err)
	}
	if err := os.Chmod(root, 0o777); err != nil {
		t.Fatal(err)
	}
	in := func(args ...string) *exec.Cmd {
		c := exec.Command(entry, args...)
		c.Dir, c.Env, c.Stderr = "/", []string{}, new(bytes.Buffer)
		c.SysProcAttr = &syscall.SysProcAttr{Chroot: root, Credential: &syscall.Credential{Uid: user, Gid: user}}
		return c
	}
	for _, args := range [][]string{{"demo", "--dir", "/made"}, {"new", "/w.spile"},
		{"add", "/w.spile", "/made/evidence.csv", "/made/prices.toml", "--who", "Ada"}, {"profit", "/w.spile"}} {
		c := in(args...)
		if err := c.Run(); err != nil {
			t.Fatalf("spile %s: %v: %s", strings.Join(args, " "), err, c.Stderr)
		}
	}
	serve := in("serve", "/w.spile", "--who", "Ada", "--addr", "127.0.0.1:0")
	out, err := serve.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := serve.Start(); err != nil {
		t.Fatal(err)
	}
	defer serve.Process.Kill()
	said := make([]byte, 4096)
	n, _ := out.Read(said)
	at := regexp.MustCompile(`http://127\.0\.0\.1:\d+`).FindString(string(said[:n]))
	client := http.Client{Timeout: time.Minute}
	w, err := client.Get(at + "/gains")
	if err != nil || w.StatusCode != http.StatusOK {
		t.Fatalf("%q: %v, %v, %s", said[:n], w, err, serve.Stderr)
	}
}
