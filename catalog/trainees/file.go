package trainees

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/catalog/wholefile"
	"gradeline/terrain"
)

// Limits of a file: far above any office's need, and small enough for a hostile one.
const (
	mostBytes    = 16 << 20
	mostTrainees = 5000
	mostDrives   = 2000 // of one trainee
	mostText     = 400  // letters
	mostLines    = 40   // of one verdict
)

// File is a file of trainees. The zero value is not usable: see Open and New.
type File struct {
	Trainees []Trainee

	path string
	was  []byte // as it was read; nil for a new file
}

// content is the file's form.
type content struct {
	Schema   string    `json:"schema"`
	About    string    `json:"about"`
	Trainees []Trainee `json:"trainees"`
	SHA256   string    `json:"sha256"` // of the trainees, in compact form
}

const about = "Progress of trainees: personal data. Made by gradeline, not to be edited by hand. gradeline progress FILE --trainee NAME --forget removes a person."

// New is an empty file that Save creates.
func New(path string) *File { return &File{path: path, Trainees: []Trainee{}} }

// Open reads a file. Errors: fs.ErrNotExist; terrain.ErrInput for one that is not of this format,
// damaged or changed by hand.
func Open(path string) (*File, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, &catalog.Fault{Kind: fs.ErrNotExist, File: path, What: "there is no such file of trainees", Fix: "add a drive: gradeline debrief DESCENT RECORDING --class ID --progress FILE --trainee NAME"}
	}
	in, err := wholefile.Open(path, "name a file of trainees")
	if err != nil {
		return nil, err
	}
	defer in.Close()
	b, err := io.ReadAll(io.LimitReader(in, mostBytes+1))
	if err != nil {
		return nil, &catalog.Fault{Kind: terrain.ErrRead, File: path, What: "cannot be read", Err: wholefile.WithoutPath(err), Fix: "check the disk"}
	}
	return Parse(path, b)
}

// Parse reads the contents of a file.
func Parse(path string, b []byte) (*File, error) {
	f := &File{path: path, was: b}
	if len(b) > mostBytes {
		return nil, f.fault(terrain.ErrInput, "is over 16 MB", "check that it is a file of trainees")
	}
	var c content
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&c); err != nil {
		return nil, f.fault(terrain.ErrInput, "is not a file of trainees: "+plainJSON(err), "restore it from a copy")
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, f.fault(terrain.ErrInput, "has more than one document in it", "restore it from a copy")
	}
	if c.Schema != Schema {
		return nil, f.fault(terrain.ErrInput, "has the format "+quoted(c.Schema)+", not "+Schema, "use the version of gradeline that wrote it")
	}
	sum, err := sumOf(c.Trainees)
	if err != nil || sum != c.SHA256 {
		return nil, f.fault(terrain.ErrInput, "is damaged or was changed by hand: its check sum is wrong", "restore it from a copy")
	}
	f.Trainees = c.Trainees
	if err := f.check(); err != nil {
		return nil, err
	}
	// keys in other cases, keys twice, other spaces: nothing that this program wrote
	if again, err := json.MarshalIndent(c, "", " "); err != nil || !bytes.Equal(append(again, '\n'), b) {
		return nil, f.fault(terrain.ErrInput, "is damaged or was changed by hand", "restore it from a copy")
	}
	return f, nil
}

// plainJSON is an error of the JSON reader without text of the file.
func plainJSON(err error) string {
	var syntax *json.SyntaxError
	var wrong *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf("no JSON at byte %d", syntax.Offset)
	case errors.As(err, &wrong):
		return fmt.Sprintf("a wrong value at byte %d", wrong.Offset)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return "it ends too early"
	}
	return "an unknown or wrong value"
}

func sumOf(ts []Trainee) (string, error) {
	b, err := json.Marshal(ts)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}

// Bytes is the file as Save writes it.
func (f *File) Bytes() ([]byte, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	sum, err := sumOf(f.Trainees)
	if err != nil {
		return nil, err
	}
	b, err := json.MarshalIndent(content{Schema, about, f.Trainees, sum}, "", " ")
	if err == nil && len(b) >= mostBytes {
		err = f.fault(terrain.ErrInput, "would be over 16 MB", "begin another file")
	}
	return append(b, '\n'), err
}

// Save writes the file complete or not at all, readable by its owner only, and overwrites its
// former contents with zeros. A file that another program has changed since it was read is left
// as it is: fs.ErrExist.
func (f *File) Save() error {
	b, err := f.Bytes()
	if err != nil {
		return err
	}
	if err := wholefile.Replace(f.path, f.was, b); err != nil {
		return err
	}
	f.was = b
	return nil
}

// check refuses contents that no drive and no office would have.
func (f *File) check() error {
	if f.Trainees == nil {
		return f.fault(terrain.ErrInput, "has no list of trainees", "restore it from a copy")
	}
	if err := f.checkCounts(); err != nil {
		return err
	}
	seen := map[string]bool{}
	for i := range f.Trainees {
		t := &f.Trainees[i]
		if err := f.checkText("a trainee's name", t.Name, true); err != nil {
			return err
		}
		if key := strings.ToLower(t.Name); seen[key] {
			return f.fault(terrain.ErrInput, "has a trainee twice", "restore it from a copy")
		} else {
			seen[key] = true
		}
		for k := range t.Drives {
			if err := f.checkDrive(&t.Drives[k]); err != nil {
				return err
			}
		}
		for k := range t.SignOffs {
			if err := f.checkSignOff(&t.SignOffs[k]); err != nil {
				return err
			}
		}
	}
	return nil
}

func (f *File) checkCounts() error {
	if len(f.Trainees) > mostTrainees {
		return f.fault(terrain.ErrInput, fmt.Sprintf("has over %d trainees", mostTrainees), "begin another file")
	}
	for i := range f.Trainees {
		if t := &f.Trainees[i]; len(t.Drives) > mostDrives || len(t.SignOffs) > mostDrives {
			return f.fault(terrain.ErrInput, fmt.Sprintf("has over %d drives of one trainee", mostDrives), "begin another file")
		}
	}
	return nil
}

func (f *File) checkDrive(d *Drive) error {
	for what, text := range map[string]string{"a descent": d.Descent, "a hill's name": d.Hill, "a class": d.Class, "a verdict on the crest": d.Crest, "a brake check": d.BrakeCheck} {
		if err := f.checkText(what, text, true); err != nil {
			return err
		}
	}
	for _, list := range [][]string{d.WellDone, d.ToChange, d.Open} {
		if len(list) > mostLines {
			return f.fault(terrain.ErrInput, "has a verdict of too many lines", "restore it from a copy")
		}
		for _, text := range list {
			if err := f.checkText("a verdict", text, true); err != nil {
				return err
			}
		}
	}
	const dayS, most = 86400.0, 1e12
	limits := []struct {
		what     string
		v, least float64
		most     float64
	}{{"mass", d.MassKg, 100, 1e6}, {"advised speed", d.AdvisedMPS, 0, 100}, {"highest speed", d.MostMPS, 0, 150}, {"time over", d.OverS, 0, dayS},
		{"time on the hill", d.OnHillS, 0, dayS}, {"time out of gear", d.NeutralS, 0, dayS}, {"share", d.CoveredPct, 0, 100.001}, {"work", d.MustWorkJ, 0, most}}
	if u := d.Applied; u != nil {
		limits = append(limits, limits[3], limits[3], limits[3], limits[3])
		n := len(limits)
		limits[n-4].v, limits[n-3].v, limits[n-2].v, limits[n-1].v = u.TotalS, u.LongestS, float64(u.Count), float64(u.Drags)
	}
	for _, l := range limits {
		if math.IsNaN(l.v) || l.v < l.least || l.v > l.most {
			return f.fault(terrain.ErrInput, fmt.Sprintf("has a drive with an impossible %s, %g", l.what, l.v), "check the recording")
		}
	}
	return f.checkTimes(d.At, d.Added)
}

func (f *File) checkSignOff(s *SignOff) error {
	for what, text := range map[string]string{"a descent": s.Descent, "a hill's name": s.Hill, "a class": s.Class, "an instructor": s.Instructor, "a note": s.Note} {
		if err := f.checkText(what, text, what != "a note"); err != nil {
			return err
		}
	}
	if s.Drives < 1 || s.Drives > mostDrives || s.On.IsZero() {
		return f.fault(terrain.ErrInput, "has a sign-off without a drive or a date", "restore it from a copy")
	}
	return f.checkTimes(s.On)
}

func (f *File) checkTimes(ts ...time.Time) error {
	for _, t := range ts {
		if !t.IsZero() && (t.Year() < 1980 || t.Year() > 9000) {
			return f.fault(terrain.ErrInput, fmt.Sprintf("has a date in the year %d", t.Year()), "check the clock of recorder and computer")
		}
	}
	return nil
}

// checkText refuses text that is too long, that a page cannot show as it is, or that is missing.
func (f *File) checkText(what, text string, isNeeded bool) error {
	n := utf8.RuneCountInString(text)
	isBad := func(r rune) bool {
		return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == utf8.RuneError
	}
	switch {
	case isNeeded && strings.TrimSpace(text) == "":
		return f.fault(terrain.ErrInput, "needs "+what, "add it")
	case n > mostText:
		return f.fault(terrain.ErrInput, fmt.Sprintf("has %s of %d letters", what, n), fmt.Sprintf("use at most %d", mostText))
	case !utf8.ValidString(text) || strings.ContainsFunc(text, isBad):
		return f.fault(terrain.ErrInput, "has "+what+" with letters that cannot be shown", "use plain text")
	}
	return nil
}

func (f *File) fault(kind error, what, fix string) error {
	return &catalog.Fault{Kind: kind, File: f.path, What: what, Fix: fix}
}

// spaced is a text without outer spaces, and with one space where there are several.
func spaced(s string) string { return strings.Join(strings.Fields(s), " ") }

func quoted(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
