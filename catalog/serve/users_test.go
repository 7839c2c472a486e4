package serve

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog/specimen"
)

// usersFile is a file with one user.
func usersFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "users")
	if err := AddUser(path, "Ada", "correct horse"); err != nil {
		t.Fatal(err)
	}
	return path
}

func readUsers(t *testing.T, path string) *Users {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	u, err := ReadUsers(path, f)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestUsersFile(t *testing.T) {
	path := usersFile(t)
	b, err := os.ReadFile(path)
	if err != nil || strings.Contains(string(b), "horse") {
		t.Errorf("the file says %s, %v", b, err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("others may read it: %v, %v", info.Mode(), err)
	}
	if err := AddUser(path, "Bo Ek", "another secret"); err != nil {
		t.Fatal(err)
	}
	u := readUsers(t, path)
	for _, c := range []struct {
		name, password string
		want           bool
	}{{"Ada", "correct horse", true}, {"Ada", "another secret", false}, {"Bo Ek", "another secret", true}, {"Cy", "correct horse", false}, {"", "", false}} {
		if u.isUser(c.name, c.password) != c.want {
			t.Errorf("%q with %q", c.name, c.password)
		}
	}
	for _, bad := range [][2]string{{"", "long enough it is"}, {"a:b", "long enough it is"}, {"a\nb", "long enough it is"}, {"Cy", "short"}, {"Cy", strings.Repeat("x", 73)}} {
		if err := AddUser(path, bad[0], bad[1]); err == nil {
			t.Errorf("%q with a password of %d characters is taken", bad[0], len(bad[1]))
		}
	}
	for _, bad := range []string{"Ada\n", "Ada:plain\n", ":x\n", string(b) + string(b)} {
		if _, err := ReadUsers("users", strings.NewReader(bad)); err == nil {
			t.Errorf("read: %q", bad)
		}
	}
}

func TestPeopleSignIn(t *testing.T) {
	o := newOffice(t)
	o.server.opt.Users, o.server.opt.Token = readUsers(t, usersFile(t)), ""
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &http.Client{Jar: jar}
	id := o.idOf("Harrow Hill Road")
	if status, body := o.asked(c, http.MethodGet, "/descent/"+id+"?token=sesame", nil, nil); status != http.StatusOK || strings.Contains(body, "Harrow Hill Road</bdi>, heading") {
		t.Errorf("a stranger sees %d %.300s", status, body)
	}
	if status, _ := o.asked(c, http.MethodPost, "/descent/"+id+"/review", url.Values{"by": {"Ada"}, "state": {"approved"}, "version": {"1"}}, nil); status != http.StatusUnauthorized {
		t.Errorf("a stranger's review: %d", status)
	}
	form := url.Values{"name": {"Ada"}, "password": {"wrong password"}, "back": {"/descent/" + id}}
	if status, body := o.asked(c, http.MethodPost, "/enter", form, nil); status != http.StatusUnauthorized || strings.Contains(body, "wrong password") {
		t.Errorf("a wrong password: %d", status)
	}
	form.Set("password", "correct horse")
	status, body := o.asked(c, http.MethodPost, "/enter", form, nil)
	if status != http.StatusOK {
		t.Fatalf("the right one: %d", status)
	}
	specimen.Says(t, "the page asked for", body, "Harrow Hill Road", "Recorded as <b><bdi>Ada</bdi>", "Sign out")
	version := versionField.FindStringSubmatch(body)[1]
	_, body = o.asked(c, http.MethodPost, "/descent/"+id+"/review", url.Values{"by": {"Mallory"}, "state": {"approved"}, "version": {version}}, nil)
	if !strings.Contains(body, "approved by Ada") || strings.Contains(body, "Mallory") {
		t.Error("the review is not in the name of who signed in")
	}
	if status, _ := o.asked(c, http.MethodPost, "/out", url.Values{}, nil); status != http.StatusOK {
		t.Errorf("signing out: %d", status)
	}
	if _, body := o.asked(c, http.MethodGet, "/", nil, nil); strings.Contains(body, "Cinder Gap") {
		t.Error("who signed out still sees the list")
	}
}

func TestPasswordsCannotBeTriedOut(t *testing.T) {
	v := newVisitors(time.Now)
	for range mostWrongTries {
		if !v.mayTry("192.0.2.1") {
			t.Fatal("too few tries")
		}
		v.fail("192.0.2.1")
	}
	if v.mayTry("192.0.2.1") || !v.mayTry("192.0.2.2") {
		t.Error("tries are not counted by address")
	}
}

// A header says who somebody is only on the trusted proxy's own connection.
func TestProxyNamesTheVisitor(t *testing.T) {
	o := newOffice(t)
	ada := func(r *http.Request) { r.Header.Set(proxyHeader, "Ada") }
	if status, _ := o.asked(&http.Client{}, http.MethodGet, "/", nil, ada); status != http.StatusUnauthorized {
		t.Errorf("a header without a proxy: %d", status)
	}
	o.server.opt.Proxy = net.ParseIP("192.0.2.9")
	if status, _ := o.asked(&http.Client{}, http.MethodGet, "/", nil, ada); status != http.StatusUnauthorized {
		t.Errorf("a header from another address: %d", status)
	}
	o.server.opt.Proxy = net.ParseIP("127.0.0.1")
	if status, _ := o.asked(&http.Client{}, http.MethodGet, "/", nil, nil); status != http.StatusUnauthorized {
		t.Errorf("the proxy without a name: %d", status)
	}
	status, body := o.asked(&http.Client{}, http.MethodGet, "/descent/"+o.idOf("Harrow Hill Road"), nil, ada)
	if status != http.StatusOK || !strings.Contains(body, "Recorded as <b><bdi>Ada</bdi>") {
		t.Errorf("the proxy with a name: %d", status)
	}
}

func TestCookiesOverTLSAreSecure(t *testing.T) {
	o := newOffice(t)
	r, err := http.NewRequest(http.MethodGet, "/", nil)
	if err != nil {
		t.Fatal(err)
	}
	if o.server.cookie(r, "a", "b").Secure {
		t.Error("a cookie of plain HTTP that never comes back")
	}
	r.TLS = &tls.ConnectionState{}
	if !o.server.cookie(r, "a", "b").Secure {
		t.Error("a cookie of TLS may go in the clear")
	}
}
