package page

import (
	"strings"
	"testing"

	"gradeline/catalog/specimen"
)

var (
	write = specimen.Written
	says  = specimen.Says
	keep  = specimen.Kept
	run   = specimen.Printed
)

func saysNot(t *testing.T, what, text string, not ...string) {
	t.Helper()
	for _, w := range not {
		if strings.Contains(text, w) {
			t.Errorf("%s says %q", what, w)
		}
	}
}

func ptr[T any](v T) *T { return &v }

// inWords is the page of a sheet in words.
func inWords(t *testing.T, s Sheet) sheetPage {
	t.Helper()
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	return p
}
