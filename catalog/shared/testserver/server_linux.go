package testserver

import (
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// server is a running PostgreSQL.
type server struct {
	dir, bin string
	port     int
	attr     *syscall.SysProcAttr // of a user who may run a server, which refuses root
	process  *os.Process
	ended    chan struct{}
}

var (
	mu      sync.Mutex
	current *server
	missing string // why there is no server
)

// Run runs the tests of a package and stops the server that they started.
func Run(m *testing.M) int {
	code := m.Run()
	Stop()
	return code
}

// Stop ends the server, if one was started, and removes its folder. The next New starts another one.
func Stop() {
	mu.Lock()
	defer mu.Unlock()
	if current != nil {
		current.stop()
		current = nil
	}
}

// Restart ends the server at once, as a crash does, and starts it again on the same data.
func (d *Database) Restart(t testing.TB) {
	t.Helper()
	d.Halt()
	d.Resume(t)
}

// Halt ends the server at once, as a crash does. Resume starts it again.
func (d *Database) Halt() {
	_ = d.s.process.Signal(syscall.SIGQUIT)
	<-d.s.ended
}

// Resume starts a server that was halted.
func (d *Database) Resume(t testing.TB) {
	t.Helper()
	if err := d.s.start(); err != nil {
		t.Fatal(err)
	}
}

func running(t testing.TB) *server {
	t.Helper()
	mu.Lock()
	defer mu.Unlock()
	if missing != "" {
		t.Skip(missing)
	}
	if current != nil {
		return current
	}
	s, why, err := begin()
	if why != "" {
		missing = why
		t.Skip(why)
	}
	if err != nil {
		t.Fatal(err)
	}
	current = s
	return s
}

// begin starts a server in a new folder; why says what it lacks.
func begin() (s *server, why string, err error) {
	bins, _ := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	extensions, _ := filepath.Glob("/usr/share/postgresql/*/extension/postgis.control")
	if len(bins) == 0 || len(extensions) == 0 {
		return nil, "needs a PostgreSQL server with PostGIS: Debian's postgresql-postgis", nil
	}
	attr := &syscall.SysProcAttr{}
	uid, gid := os.Getuid(), os.Getgid()
	if uid == 0 {
		u, err := user.Lookup("postgres")
		if err != nil {
			return nil, "needs the user postgres of Debian's postgresql-common", nil
		}
		uid, _ = strconv.Atoi(u.Uid)
		gid, _ = strconv.Atoi(u.Gid)
		attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	}
	dir, err := os.MkdirTemp("", "pg") // a socket's path has at most 107 bytes
	if err != nil {
		return nil, "", err
	}
	s = &server{dir: dir, bin: filepath.Dir(bins[len(bins)-1]), attr: attr}
	if err = errors.Join(os.Chmod(dir, 0o755), os.Chown(dir, uid, gid)); err == nil {
		err = s.make()
	}
	if err != nil {
		s.stop()
		return nil, "", err
	}
	return s, "", nil
}

// make makes the data folder, starts the server on it and makes the template of the databases.
func (s *server) make() error {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	s.port = l.Addr().(*net.TCPAddr).Port
	l.Close()
	// Who may enter is in the rules below.
	if _, err := s.run(s.bin+"/initdb", "-D", s.data(), "-A", "trust", "-U", Owner, "--no-sync", "-E", "UTF8", "--locale=C"); err != nil {
		return err
	}
	rules := "local all " + Owner + " trust\nlocal all all scram-sha-256\nhost all all 127.0.0.1/32 scram-sha-256\n"
	if err := os.WriteFile(filepath.Join(s.data(), "pg_hba.conf"), []byte(rules), 0o644); err != nil {
		return err
	}
	if err := s.start(); err != nil {
		return err
	}
	for _, step := range [][2]string{{"postgres", "CREATE DATABASE " + templateName}, {templateName, "CREATE EXTENSION postgis"}} {
		if _, err := s.psql(step[0], step[1]); err != nil {
			return err
		}
	}
	return nil
}

func (s *server) data() string { return filepath.Join(s.dir, "db") }

// start runs the server and waits until it answers.
func (s *server) start() error {
	out, err := os.OpenFile(filepath.Join(s.dir, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	attr := *s.attr
	attr.Pdeathsig = syscall.SIGQUIT // ends at once with this program
	cmd := exec.Command(s.bin+"/postgres", "-D", s.data(), "-k", s.dir, "-p", strconv.Itoa(s.port), "-F",
		"-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_permissions=0777", "-c", "shared_buffers=32MB", "-c", "autovacuum=off", "-c", "jit=off")
	cmd.SysProcAttr, cmd.Dir, cmd.Stdout, cmd.Stderr = &attr, s.dir, out, out
	s.ended = make(chan struct{})
	begun := make(chan error)
	go func() {
		// The signal comes when the thread ends that started the server, so this one is kept.
		runtime.LockOSThread()
		defer out.Close()
		err := cmd.Start()
		begun <- err
		if err == nil {
			_ = cmd.Wait()
		}
		close(s.ended)
	}()
	if err := <-begun; err != nil {
		return err
	}
	s.process = cmd.Process
	for range 600 {
		if _, err = s.psql("postgres", "SELECT 1"); err == nil {
			return nil
		}
		select {
		case <-s.ended:
			return fmt.Errorf("the server has ended: %s", s.log())
		case <-time.After(50 * time.Millisecond):
		}
	}
	return fmt.Errorf("the server does not answer: %w: %s", err, s.log())
}

func (s *server) stop() {
	if s.process != nil {
		_ = s.process.Signal(syscall.SIGQUIT)
		<-s.ended
	}
	_ = os.RemoveAll(s.dir)
}

// run runs a program as the user of the server and returns its output.
func (s *server) run(name string, args ...string) (string, error) {
	cmd := exec.Command(name, args...)
	cmd.SysProcAttr, cmd.Dir, cmd.Env = s.attr, s.dir, append(os.Environ(), "HOME="+s.dir)
	out, err := cmd.CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%s: %w: %s", filepath.Base(name), err, out)
	}
	return strings.TrimSpace(string(out)), nil
}

func (s *server) psql(database, sql string) (string, error) {
	return s.run(s.bin+"/psql", "-X", "-h", s.dir, "-p", strconv.Itoa(s.port), "-U", Owner, "-v", "ON_ERROR_STOP=1", "-Atqc", sql, database)
}

func (s *server) ask(t testing.TB, sql string) { t.Helper(); s.askIn(t, "postgres", sql) }

func (s *server) askIn(t testing.TB, database, sql string) string {
	t.Helper()
	out, err := s.psql(database, sql)
	if err != nil {
		t.Fatalf("%.300s: %v", sql, err)
	}
	return out
}

func (s *server) log() string {
	b, err := os.ReadFile(filepath.Join(s.dir, "log"))
	if err != nil {
		return err.Error()
	}
	return string(b)
}
