//go:build linux

// Package cluster runs a PostgreSQL of its own in a temporary folder, for tests, as an ordinary user.
package cluster

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Server is a running server.
type Server struct {
	dir, bin string
	port     int
	as       *syscall.Credential // nil: who runs the test
	run      *exec.Cmd
	over     chan struct{} // closed once it has ended
	schemas  atomic.Int64
}

// password has what an address must write otherwise.
const password = "s@p/ %run#1"

// Start makes a cluster and starts its server. The error begins with NOT RUN where there is no PostgreSQL.
func Start() (*Server, error) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb") // where Debian keeps it, in no PATH
	initdb, err := exec.LookPath("initdb")
	switch {
	case len(found) > 0:
		initdb = found[len(found)-1]
	case err != nil:
		return nil, errors.New("NOT RUN: this needs PostgreSQL (Debian's postgresql)")
	}
	s := &Server{bin: filepath.Dir(initdb)}
	if err := s.room(); err != nil {
		return nil, err
	}
	if err := s.make(); err != nil {
		os.RemoveAll(s.dir)
		return nil, err
	}
	return s, s.Again()
}

// room is a folder and a port of its own, and whom it runs as.
func (s *Server) room() (err error) {
	if s.dir, err = os.MkdirTemp("", "spile-cluster"); err != nil {
		return err
	}
	if os.Getuid() == 0 { // for whom PostgreSQL does not run
		s.as = &syscall.Credential{Uid: 65534, Gid: 65534}
		if u, err := user.Lookup("postgres"); err == nil {
			uid, _ := strconv.ParseUint(u.Uid, 10, 32)
			gid, _ := strconv.ParseUint(u.Gid, 10, 32)
			s.as = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		}
		if err := os.Chown(s.dir, int(s.as.Uid), int(s.as.Gid)); err != nil {
			return err
		}
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	s.port = free.Addr().(*net.TCPAddr).Port
	return free.Close()
}

// Standby starts a second server that takes in what this one writes, as it is written. From then on this one confirms a
// change once the other has it.
func (s *Server) Standby() (*Server, error) {
	t := &Server{bin: s.bin}
	if err := t.room(); err != nil {
		return nil, err
	}
	c := t.command("pg_basebackup", "-D", "data", "-R", "-c", "fast", "--no-sync", "-d",
		s.Address("")+"?application_name=standby")
	if out, err := c.CombinedOutput(); err != nil {
		os.RemoveAll(t.dir)
		return nil, fmt.Errorf("pg_basebackup: %w\n%s", err, out)
	}
	if err := t.Again(); err != nil {
		return nil, err
	}
	return t, errors.Join(s.do(`ALTER SYSTEM SET synchronous_standby_names = 'standby'`),
		s.do(`SELECT pg_reload_conf()`))
}

// Promote lets a standby take writes.
func (s *Server) Promote() error { return s.do(`SELECT pg_promote()`) }

// Or is an address at this server, as Address gives it, or at another: whichever takes writes.
func (s *Server) Or(t *Server, at string) string {
	here := fmt.Sprintf("127.0.0.1:%d", s.port)
	both := fmt.Sprintf("%s,127.0.0.1:%d", here, t.port)
	return strings.Replace(at, here, both, 1) + "&target_session_attrs=read-write"
}

// do runs a statement.
func (s *Server) do(statement string) error {
	c, err := pgx.Connect(context.Background(), s.Address(""))
	if err != nil {
		return err
	}
	defer c.Close(context.Background())
	_, err = c.Exec(context.Background(), statement)
	return err
}

func (s *Server) make() error {
	secret := filepath.Join(s.dir, "secret")
	if err := os.WriteFile(secret, []byte(password+"\n"), 0o644); err != nil {
		return err
	}
	c := s.command("initdb", "-D", filepath.Join(s.dir, "data"), "-U", "spile", "-A", "scram-sha-256", "--pwfile",
		secret, "-E", "UTF8", "--locale", "C.UTF-8", "--no-sync")
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %w\n%s", err, out)
	}
	return nil
}

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(filepath.Join(s.bin, name), args...)
	c.Dir = s.dir
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as, Pdeathsig: syscall.SIGQUIT}
	return c
}

// Again starts the server, anew where it was killed, and waits until it answers.
func (s *Server) Again() error {
	log, err := os.OpenFile(filepath.Join(s.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer log.Close()
	if err := s.start(log); err != nil {
		return err
	}
	until := time.Now().Add(time.Minute)
	for {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		c, err := pgx.Connect(ctx, s.Address(""))
		cancel()
		if err == nil {
			return c.Close(context.Background())
		}
		if time.Now().After(until) {
			text, _ := os.ReadFile(log.Name())
			s.Stop()
			return fmt.Errorf("the server does not answer: %w\n%s", err, text)
		}
		select {
		case <-s.over: // what a killed one has left is not yet gone
			if err := s.start(log); err != nil {
				return err
			}
		case <-time.After(50 * time.Millisecond):
		}
	}
}

func (s *Server) start(log *os.File) error {
	s.run = s.command("postgres", "-D", "data", "-k", s.dir, "-h", "127.0.0.1", "-p", strconv.Itoa(s.port),
		"-c", "fsync=off", "-c", "max_connections=300")
	s.run.Stderr = log
	run, over := s.run, make(chan struct{})
	s.over = over
	err := run.Start()
	go func() {
		run.Wait()
		time.Sleep(50 * time.Millisecond)
		close(over)
	}()
	return err
}

// Kill ends the server and all that serve its connections at once, with nothing said or written.
func (s *Server) Kill() {
	pid := strconv.Itoa(s.run.Process.Pid)
	children, _ := os.ReadFile(filepath.Join("/proc", pid, "task", pid, "children"))
	s.run.Process.Kill()
	for _, child := range strings.Fields(string(children)) {
		if pid, err := strconv.Atoi(child); err == nil {
			syscall.Kill(pid, syscall.SIGKILL)
		}
	}
	<-s.over
}

// Stop ends the server and takes its folder away.
func (s *Server) Stop() {
	s.run.Process.Signal(syscall.SIGQUIT)
	<-s.over
	os.RemoveAll(s.dir)
}

// Dump is what pg_dump says of a schema by its address.
func (s *Server) Dump(address string) ([]byte, error) {
	at, schema, _ := strings.Cut(address, "?search_path=")
	return s.command("pg_dump", "--schema", schema, at).Output()
}

// Restore runs what pg_dump said.
func (s *Server) Restore(dump []byte) error {
	c := s.command("psql", "-v", "ON_ERROR_STOP=1", "-q", s.Address(""))
	c.Stdin = bytes.NewReader(dump)
	out, err := c.CombinedOutput()
	if err != nil {
		return fmt.Errorf("psql: %w\n%s", err, out)
	}
	return nil
}

// Address is that of a schema; "": of the database.
func (s *Server) Address(schema string) string {
	at := fmt.Sprintf("postgres://spile:%s@127.0.0.1:%d/postgres", "s%40p%2F%20%25run%231", s.port)
	if schema != "" {
		at += "?search_path=" + schema
	}
	return at
}

// Schema is the address of an empty schema that nobody else uses.
func (s *Server) Schema() (string, error) {
	name := fmt.Sprint("own", s.schemas.Add(1))
	return s.Address(name), s.do(`CREATE SCHEMA ` + name)
}

// Schemas gives addresses of empty schemas on a server of this test alone. It skips where tests are not asked to run
// over PostgreSQL.
func Schemas(t testing.TB) func() string {
	t.Helper()
	if os.Getenv("SPILE_ENGINE") != "postgres" {
		t.Skip("this asks for SPILE_ENGINE=postgres")
	}
	s, err := Start()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Stop)
	return func() string {
		at, err := s.Schema()
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
}
