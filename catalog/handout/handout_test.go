package handout

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

// Hostile text stays text, and what the font lacks is a question mark in the PDF.
func TestTextStaysText(t *testing.T) {
	d := Document{Title: "<script>alert(1)</script> 山", Blocks: []Block{List{Items: []string{"<b>one</b>"}, Ticks: true}, Blanks{Labels: []string{"Date"}},
		Table{Head: []string{"a", "b"}, Rows: [][]string{{"1", "2", "too many"}}}}}
	var b bytes.Buffer
	if err := HTML(&b, d); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Contains(s, "<script>") || strings.Contains(s, "<b>") || !strings.Contains(s, "&lt;b&gt;one") {
		t.Error(s)
	}
	if got := printable("a 山"); got != "a ?" {
		t.Errorf("%q", got)
	}
	b.Reset()
	if err := PDF(&b, d, "A4", time.Time{}); err != nil || !bytes.HasPrefix(b.Bytes(), []byte("%PDF")) {
		t.Errorf("%v", err)
	}
}

func TestLongDocumentsBreakIntoPages(t *testing.T) {
	d := Document{Title: "long"}
	for range 120 {
		d.Blocks = append(d.Blocks, Paragraph{Text: "A line of text."})
	}
	if n, err := PageCount(d, "A4"); err != nil || n != 3 {
		t.Errorf("%d pages, %v", n, err)
	}
}
