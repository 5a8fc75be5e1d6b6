//go:build ignore

// Engine builds the engine of published pages into internal/view/publish/engine, as small as the compiler makes it, and
// writes down the digest of all that it was built from. With -check it says whether that is the present digest.
package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
)

const into = "internal/view/publish/engine"

func main() {
	if err := os.Chdir(filepath.Dir(env("GOMOD"))); err != nil {
		fail(err)
	}
	digest, err := sources()
	if err != nil {
		fail(err)
	}
	if len(os.Args) > 1 && os.Args[1] == "-check" {
		built, _ := os.ReadFile(filepath.Join(into, "built"))
		if strings.TrimSpace(string(built)) != digest {
			fail(fmt.Errorf("the engine of published pages is older than its sources: make engine"))
		}
		return
	}
	wasm := filepath.Join(os.TempDir(), fmt.Sprint("room-", os.Getpid(), ".wasm"))
	defer os.Remove(wasm)
	// Without inlining the engine is a tenth smaller; what it computes with is inlined, and takes a fifth less time.
	args := []string{"build", "-trimpath", "-buildvcs=false", "-gcflags=all=-l"}
	for _, p := range []string{"spile/internal/engine/...", "math", "math/...", "cmp", "slices", "sort"} {
		args = append(args, "-gcflags="+p+"=")
	}
	build := exec.Command("go", append(args, "-ldflags=-s -w -buildid=", "-o", wasm, "./cmd/room")...)
	build.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "GOFLAGS=")
	build.Stderr = os.Stderr
	if err := build.Run(); err != nil {
		fail(err)
	}
	code, err := os.Stat(wasm)
	if err != nil {
		fail(err)
	}
	starts, err := os.ReadFile(filepath.Join(env("GOROOT"), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		fail(err)
	}
	// Zopfli's gzip is a twentieth smaller than that of the library, for a minute that only this takes.
	packed, err := exec.Command("zopfli", "--i5", "-c", wasm).Output()
	if err != nil {
		fail(fmt.Errorf("zopfli, of the package of that name: %w", err))
	}
	for name, data := range map[string][]byte{"room.wasm.gz": packed, "exec.js": starts,
		"built": []byte(digest + "\n")} {
		if err := os.WriteFile(filepath.Join(into, name), data, 0o644); err != nil {
			fail(err)
		}
	}
	fmt.Printf("%s: %d bytes of %d\n", into, len(packed), code.Size())
}

// env is what the go command says of itself.
func env(name string) string {
	out, err := exec.Command("go", "env", name).Output()
	if err != nil {
		fail(err)
	}
	return strings.TrimSpace(string(out))
}

// sources is a digest of the engine's sources, of the versions of what it stands on, and of the compiler.
func sources() (string, error) {
	list := exec.Command("go", "list", "-deps", "-f",
		`{{if .Module}}{{if .Module.Main}}{{$d := .Dir}}{{range .GoFiles}}{{$d}}/{{.}}`+"\n"+
			`{{end}}{{range .EmbedFiles}}{{$d}}/{{.}}`+"\n"+`{{end}}{{else}}{{.ImportPath}} {{.Module.Version}}`+"\n"+
			`{{end}}{{end}}`, "./cmd/room")
	list.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "GOFLAGS=")
	out, err := list.Output()
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	mod, err := os.ReadFile("go.mod")
	if err != nil {
		return "", err
	}
	fmt.Fprintf(sum, "%s\n", regexp.MustCompile(`(?m)^go .*$`).Find(mod))
	here, _ := os.Getwd()
	for line := range strings.Lines(string(out)) {
		line = strings.TrimSpace(line)
		name, ours := strings.CutPrefix(line, here+string(filepath.Separator))
		if !ours {
			fmt.Fprintln(sum, line)
			continue
		}
		data, err := os.ReadFile(line)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(sum, "%s %x\n", filepath.ToSlash(name), sha256.Sum256(data))
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}
