//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// asProgram has the test binary be the program, so that it can be stopped from outside.
const asProgram = "SPILE_AS_PROGRAM"

// start runs the program in a folder of its own.
func start(t *testing.T, dir string, args ...string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	c := exec.Command(os.Args[0], args...)
	c.Dir = dir
	c.Env = append(os.Environ(), asProgram+"=1")
	var said bytes.Buffer
	c.Stdout, c.Stderr = &said, &said
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, &said
}

// stops starts the program, stops it after a while, in the midst of whatever it does, and judges how it ends. It is
// false where the program had not come so far as to listen: where a machine is busy that takes as long as it takes.
func stops(t *testing.T, dir string, s syscall.Signal, wait time.Duration, args []string) bool {
	t.Helper()
	c, said := start(t, dir, args...)
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	select {
	case <-ended:
		t.Fatalf("it was done before it could be stopped: %s", said)
	case <-time.After(wait):
	}
	at := time.Now()
	if err := c.Process.Signal(s); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.Sys().(syscall.WaitStatus).Signaled() && wait < 10*time.Second {
			return false
		}
		if !errors.As(err, &exit) || exit.ExitCode() != 128+int(s) {
			t.Errorf("ended with %v: %s", err, said)
		}
	case <-time.After(10 * time.Second):
		c.Process.Kill()
		t.Fatal("it did not end")
	}
	if took := time.Since(at); took > 3*time.Second { // half a second where nothing else runs
		t.Errorf("it ended after %v", took)
	}
	return true
}

// A stop ends every command soon, with the exit code of the signal, and leaves no file that is half written.
func TestAStopStops(t *testing.T) {
	demo, err := filepath.Abs("../../internal/demo")
	if err != nil {
		t.Fatal(err)
	}
	table, prices := filepath.Join(demo, "evidence.csv"), filepath.Join(demo, "prices.toml")
	for name, args := range map[string][]string{
		"a simulation": {"trial", "power", "--practices", "6", "--replicates", "6", "--adjusted", "--cv", "8",
			"--gain", "20", "--runs", "1000000"},
		"the workbench": {"serve", table, prices, "--addr", "127.0.0.1:0"},
		"the demo":      {"demo", "--serve", "--addr", "127.0.0.1:0"},
	} {
		for _, s := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
			t.Run(fmt.Sprint(name, " ", s), func(t *testing.T) {
				t.Parallel()
				dir := t.TempDir()
				for wait := 400 * time.Millisecond; !stops(t, dir, s, wait, args); wait *= 2 {
				}
				filepath.WalkDir(dir, func(path string, _ os.DirEntry, err error) error {
					if strings.HasSuffix(path, ".part") {
						t.Errorf("left behind: %s", path)
					}
					return err
				})
			})
		}
	}
}

// A pipe is refused, and not waited for.
func TestPipes(t *testing.T) {
	dir := t.TempDir()
	evidence, err := filepath.Abs("../../internal/demo/evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	for name, args := range map[string][]string{
		"evidence.csv": {"gains"}, "prices.toml": {"gains"}, "own.spile": {"check"}, "own.xlsx": {"gains"},
		"all.zip": {"gains"}, "written.csv": {"export", evidence, "-o"},
	} {
		path := filepath.Join(dir, name)
		if err := syscall.Mkfifo(path, 0o600); err != nil {
			t.Fatal(err)
		}
		c, said := start(t, dir, append(args, path)...)
		ended := make(chan error, 1)
		go func() { ended <- c.Wait() }()
		select {
		case err := <-ended:
			var exit *exec.ExitError
			refused := strings.Contains(said.String(), "device") ||
				strings.Contains(said.String(), "that nothing reads")
			if !errors.As(err, &exit) || exit.ExitCode() != faultyData || !refused {
				t.Errorf("%s: %v: %s", name, err, said)
			}
		case <-time.After(20 * time.Second):
			c.Process.Kill()
			t.Errorf("%s: waits for whoever writes into it", name)
		}
	}
}
