// Package handout writes short documents for a class room or an office as HTML and PDF.
// The input is a Document: headings, paragraphs, lists, tables, pictures and blanks to
// fill in, in plain text. The output is one HTML file that loads nothing, or a PDF in
// black and greys with numbered pages. Characters that the PDF's font lacks are printed
// as "?". Errors are those of the writer and of the PDF library.
package handout

// Document is the content, from the top down.
type Document struct {
	Title   string
	Banner  string // across the head of each page, as for an invented place; may be empty
	Footer  string // under each page
	Creator string
	Blocks  []Block
}

// Block is one of the types below.
type Block interface{ isBlock() }

// Heading begins a section; OnNewPage also begins a page.
type Heading struct {
	Text      string
	OnNewPage bool
}

// Paragraph is running text; Strong is set in bold.
type Paragraph struct {
	Text   string
	Strong bool
}

// List is a list of items, numbered or each with a box to tick.
type List struct {
	Items    []string
	Numbered bool
	Ticks    bool
}

// Table has a head row; the first column is as wide as Share of the page.
type Table struct {
	Head  []string
	Rows  [][]string
	Share float64 // 0 to 1; 0 for equal columns
}

// Picture is one drawing in both forms, with a description for readers who cannot see it.
type Picture struct {
	SVG, PNG    []byte
	HeightShare float64 // height over width
	Alt         string
}

// Blanks are lines to fill in by hand.
type Blanks struct{ Labels []string }

func (Heading) isBlock()   {}
func (Paragraph) isBlock() {}
func (List) isBlock()      {}
func (Table) isBlock()     {}
func (Picture) isBlock()   {}
func (Blanks) isBlock()    {}
