package holding

import (
	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Fleet advises the same classes on one hill after another. What depends on a truck alone is
// worked out once. It is not safe for concurrent use.
type Fleet struct {
	classes []vehicle.Class
	trucks  []fleetTruck
	scratch []stretch
}

// fleetTruck holds the kept results of one class.
type fleetTruck struct {
	isValid bool
	figures string // the class's mark
	forces  *forces
	memo    memo // of the last hill; its memory is used again
}

// NewFleet returns a Fleet of classes, which must not change while it is in use.
func NewFleet(classes []vehicle.Class) *Fleet {
	return &Fleet{classes: classes, trucks: make([]fleetTruck, len(classes))}
}

// IsFor reports whether the fleet is of these very classes, not copies of them.
func (f *Fleet) IsFor(classes []vehicle.Class) bool {
	return f != nil && len(f.classes) == len(classes) && (len(classes) == 0 || &f.classes[0] == &classes[0])
}

// Advise works out the advice on the adviser's hill for the class with an index.
func (f *Fleet) Advise(a *Adviser, class int, o Options) (catalog.Hold, error) {
	c, t := &f.classes[class], &f.trucks[class]
	if t.figures == "" {
		t.figures = c.AdviceMark()
	}
	a.scratch = f.scratch
	p, err := a.newProblem(c, t, o)
	f.scratch = a.scratch
	if err != nil {
		return catalog.Hold{}, err
	}
	return p.advise(), nil
}
