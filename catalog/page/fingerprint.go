package page

import (
	"crypto/sha256"
	"encoding/json"
	"strings"

	"gradeline/catalog"
)

// fingerprintLetters are base 32 as Crockford writes it (from memory): no I, L, O or
// U, so that a fingerprint is read out and typed without a mistake.
const fingerprintLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// Fingerprint is the short code printed on the page: two pages with the same fingerprint give the
// same advice. It covers the descent's figures, the hold, the review and the sites, but not units,
// paper or wording. Of different pages, one pair in a million million has the same one.
func (s *Sheet) Fingerprint() (string, error) {
	_, h, why := s.answer()
	type site struct {
		Kind       catalog.SiteKind
		Name, Side string
		StationM   float64
	}
	sites := []site{}
	for _, x := range s.sorted() {
		sites = append(sites, site{x.Kind, x.Name, x.Side, *x.StationM})
	}
	facts := struct {
		Descent any
		Class   string
		Why     string
		Hold    *catalog.Hold
		State   catalog.ReviewState
		Asked   string // why the review is in question
		Sites   []site
	}{s.Entry.Descent, s.Class, why, h, s.Entry.Review.State, s.Entry.Review.InQuestion, sites}
	b, err := json.Marshal(facts)
	if err != nil {
		return "", &catalog.Fault{Kind: catalog.ErrImpossible, Feature: s.Entry.Descent.ID, What: "holds a figure that is not a number", Err: err,
			Fix: "survey the route again; if the fault remains, report it"}
	}
	sum := sha256.Sum256(b)
	bits := uint64(0)
	for _, x := range sum[:5] {
		bits = bits<<8 | uint64(x)
	}
	var out strings.Builder
	for i := 35; i >= 0; i -= 5 {
		out.WriteByte(fingerprintLetters[bits>>i&31])
		if i == 20 {
			out.WriteByte('-')
		}
	}
	return out.String(), nil
}

// SameFingerprint compares fingerprints as people type them: in small letters,
// without the hyphen, with O for 0 and I or L for 1.
func SameFingerprint(a, b string) bool { return normalFingerprint(a) == normalFingerprint(b) }

// IsFingerprint reports whether text can be a fingerprint at all.
func IsFingerprint(s string) bool {
	n := normalFingerprint(s)
	return len(n) == 8 && strings.Trim(n, fingerprintLetters) == ""
}

func normalFingerprint(s string) string {
	return strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(s))
}
