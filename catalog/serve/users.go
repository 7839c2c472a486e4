package serve

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/crypto/bcrypt"

	"gradeline/catalog"
	"gradeline/catalog/wholefile"
	"gradeline/terrain"
)

// Users are people with passwords. A file of users has a line for each: the name, a colon and the
// bcrypt hash of the password.
type Users struct{ hashes map[string]string }

// Limits of names and passwords. bcrypt uses no more than 72 bytes.
const (
	leastPasswordBytes = 10
	mostPasswordBytes  = 72
	mostUsers          = 10_000
)

// OpenUsers reads a file of users by its path.
func OpenUsers(path string) (*Users, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &catalog.Fault{Kind: terrain.ErrRead, File: path, What: "cannot be opened", Err: err, Fix: "create it with gradeline serve users add NAME --users " + path}
	}
	defer f.Close()
	return ReadUsers(path, f)
}

// ReadUsers reads a file of users.
func ReadUsers(file string, r io.Reader) (*Users, error) {
	nobodysHash()
	u := &Users{hashes: map[string]string{}}
	lines := bufio.NewScanner(io.LimitReader(r, 4<<20))
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, hash, found := strings.Cut(line, ":")
		bad := ""
		switch {
		case !found || checkName(name) != nil:
			bad = "is not a name, a colon and a password's hash"
		case u.hashes[name] != "":
			bad = fmt.Sprintf("names %q a second time", name)
		case len(u.hashes) == mostUsers:
			bad = fmt.Sprintf("exceeds the limit of %d users", mostUsers)
		default:
			if _, err := bcrypt.Cost([]byte(hash)); err != nil {
				bad = "has no bcrypt hash"
			}
		}
		if bad != "" {
			return nil, &catalog.Fault{Kind: terrain.ErrInput, File: file, What: fmt.Sprintf("line %d %s", n, bad), Fix: "create the file with gradeline serve users add"}
		}
		u.hashes[name] = hash
	}
	if err := lines.Err(); err != nil {
		return nil, &catalog.Fault{Kind: terrain.ErrRead, File: file, What: "cannot be read", Err: err}
	}
	return u, nil
}

// checkName refuses a name that is not possible in a file, a cookie and a history.
func checkName(name string) error {
	isOdd := func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == ':' }
	if name == "" || len(name) > mostNameBytes || strings.TrimSpace(name) != name || strings.ContainsFunc(name, isOdd) {
		return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%.60q is not a name", name), Fix: fmt.Sprintf("use at most %d characters, without colons", mostNameBytes)}
	}
	return nil
}

// AddUser adds a person to a file of users, or changes their password. A missing file is created,
// readable by its owner only.
func AddUser(path, name, password string) error {
	if err := checkName(name); err != nil {
		return err
	}
	if len(password) < leastPasswordBytes || len(password) > mostPasswordBytes {
		return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a password of %d characters", len(password)), Fix: fmt.Sprintf("use one of %d to %d", leastPasswordBytes, mostPasswordBytes)}
	}
	u, err := OpenUsers(path)
	if errors.Is(err, os.ErrNotExist) {
		u, err = &Users{hashes: map[string]string{}}, nil
	}
	if err != nil {
		return err
	}
	hash, err := bcrypt.GenerateFromPassword([]byte(password), bcrypt.DefaultCost)
	if err != nil {
		return err
	}
	u.hashes[name] = string(hash)
	if err := wholefile.WriteFile(path, true, u.write); err != nil {
		return err
	}
	return os.Chmod(path, 0o600)
}

// write writes the file, by name.
func (u *Users) write(w io.Writer) error {
	var names []string
	for name := range u.hashes {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if _, err := fmt.Fprintf(w, "%s:%s\n", name, u.hashes[name]); err != nil {
			return err
		}
	}
	return nil
}

// nobodysHash is compared where the name does not exist, so that the time of an answer does not
// reveal which names exist. It is made with the first list of users: it takes longer than all else at
// the start of a command.
var nobodysHash = sync.OnceValue(func() []byte {
	hash, _ := bcrypt.GenerateFromPassword([]byte("nobody has this password"), bcrypt.DefaultCost) // this password is short enough
	return hash
})

// isUser reports whether a name and a password belong together.
func (u *Users) isUser(name, password string) bool {
	hash, found := u.hashes[name]
	if !found {
		_ = bcrypt.CompareHashAndPassword(nobodysHash(), []byte(password))
		return false
	}
	return bcrypt.CompareHashAndPassword([]byte(hash), []byte(password)) == nil
}
