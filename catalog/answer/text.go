package answer

import (
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// textCols is the greatest width of text for people.
const textCols = 92

// lines writes text for people in a unit system. After the first failure it writes
// nothing more; err is that failure.
type lines struct {
	w     io.Writer
	units catalog.Units
	err   error
}

func (l *lines) printf(format string, a ...any) {
	if l.err == nil {
		_, l.err = fmt.Fprintf(l.w, format, a...)
	}
}

// item writes a line of a list, wrapped and indented.
func (l *lines) item(format string, a ...any) {
	l.printf("  %s\n", wording.Wrapped(fmt.Sprintf(format, a...), textCols, 4))
}

// setIn writes a line, wrapped and indented by some columns.
func (l *lines) setIn(cols int, format string, a ...any) {
	l.printf("%s%s\n", strings.Repeat(" ", cols), wording.Wrapped(wording.OneLine(fmt.Sprintf(format, a...)), textCols, cols+2))
}

// banner marks invented data.
func (l *lines) banner(isInvented bool) {
	if isInvented {
		l.printf("%s\n\n", wording.InventedBanner)
	}
}

// cautions writes the cautions of this answer, then those of every answer.
func (l *lines) cautions(own []string) {
	l.printf("\nCautions\n")
	for _, list := range [][]string{own, catalog.Cautions()} {
		for _, t := range list {
			l.printf("- %s\n", wording.Wrapped(t, textCols, 2))
		}
	}
}
