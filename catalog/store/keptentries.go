package store

import (
	"slices"
	"unsafe"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/routes"
)

// A question about few descents, such as those of a map's box, keeps what it read for the next one;
// see gpkg.Kept. Each question gets copies of its own. The kinds of what is kept:
const (
	keptDescent    = iota + 1 // *keptOfDescent, by the descent's key
	keptHolds                 // []catalog.Hold without their details, likewise
	keptProvenance            // *catalog.Provenance, by its key
)

// mostKept is the number of descents above which a question keeps nothing: a complete list would
// take the places of all that the map's boxes ask again and again.
var mostKept = 100

// keptOfDescent is an entry without its holds and provenance.
type keptOfDescent struct {
	descent       routes.Descent
	line          []catalog.Vertex
	review        catalog.Review
	goneSince     string
	provenanceFID int64
	danger        dangerOrder
}

// keepDescent keeps a copy of an entry.
func (l *loader) keepDescent(e *resurvey.Stored, provenanceFID int64, danger dangerOrder) {
	k := &keptOfDescent{copyOfDescent(&e.Descent), slices.Clone(e.Line), e.Review, e.GoneSince, provenanceFID, danger}
	k.review.MeasuredGradePct = copyOf(e.Review.MeasuredGradePct)
	const restB = 1024 // texts, lists and the map's own memory
	l.kept.Put(gpkg.KeptKey{Kind: keptDescent, Key: e.Key}, k, restB+len(k.line)*int(unsafe.Sizeof(catalog.Vertex{})))
}

// copyTo copies what is kept into an entry.
func (k *keptOfDescent) copyTo(e *resurvey.Stored) {
	e.Descent, e.Line, e.Review, e.GoneSince = copyOfDescent(&k.descent), slices.Clone(k.line), k.review, k.goneSince
	e.Review.MeasuredGradePct = copyOf(k.review.MeasuredGradePct)
}

func copyOfDescent(d *routes.Descent) routes.Descent {
	c := *d
	c.SteepParts = slices.Clone(d.SteepParts)
	for i := range c.SteepParts {
		c.SteepParts[i].Flags = slices.Clone(c.SteepParts[i].Flags)
	}
	c.TightestRadiusM, c.TightestRadiusAtM = copyOf(d.TightestRadiusM), copyOf(d.TightestRadiusAtM)
	c.Benches, c.Flags, c.GoesOn = slices.Clone(d.Benches), slices.Clone(d.Flags), slices.Clone(d.GoesOn)
	return c
}

// keepHolds keeps a copy of holds without their details.
func (l *loader) keepHolds(e *resurvey.Stored) {
	const restB = 128 // of each: texts
	l.kept.Put(gpkg.KeptKey{Kind: keptHolds, Key: e.Key}, copyOfHolds(e.Holds), len(e.Holds)*(restB+int(unsafe.Sizeof(catalog.Hold{}))))
}

// copyOfHolds copies holds without details: the fields that fillHold sets for a brief list.
func copyOfHolds(holds []catalog.Hold) []catalog.Hold {
	out := slices.Clone(holds)
	for i := range out {
		h := &out[i]
		h.ServiceBrakeTempC, h.Weather, h.SurfacesOut = copyOf(h.ServiceBrakeTempC), copyOf(h.Weather), slices.Clone(h.SurfacesOut)
	}
	return out
}

func copyOf[T any](p *T) *T {
	if p == nil {
		return nil
	}
	c := *p
	return &c
}
