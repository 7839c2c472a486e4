// Package answer holds the answers of gradeline: their types, their JSON form by the
// schema gradeline/1, and their words and tables for people.
//
// A type of this package is made from the catalogue or from a computation and is
// written in two ways. WriteJSON and the …JSON functions write it as one object in SI
// units, the unit last in each name; long answers are written as a stream, so that
// memory does not grow. The …Text and …Table functions write it for people in the units
// of their country (catalog.Units). Advised speeds are rounded down, bounds are 95 %
// half-widths, and every answer carries its cautions. Nothing here prints or exits:
// what fails is returned.
package answer

import (
	"io"

	"gradeline/catalog"
)

// Answer is the answer of a command: WriteJSON writes it for programs, WriteText for people.
type Answer interface {
	WriteText(w io.Writer, u catalog.Units) error
}
