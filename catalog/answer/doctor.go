package answer

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/shared"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/wording"
	"gradeline/terrain/raster"
)

// Doctor is the list of checks of libraries, data and a catalogue.
type Doctor struct {
	Schema string  `json:"schema"`
	Checks []Check `json:"checks"`
}

// Check is one thing that was examined.
type Check struct {
	What string `json:"what"`
	OK   bool   `json:"ok"`
	Look bool   `json:"look,omitempty"` // no fault of the file, but something for a person to look at
	Says string `json:"says"`
}

// NewDoctor checks the program of a version, its libraries and data. classCount and classErr are of the
// reading of the weight classes in use.
func NewDoctor(version string, classCount int, classErr error) *Doctor {
	a := &Doctor{Schema: catalog.Schema}
	gdal, proj := raster.Version()
	a.Add("gradeline", nil, version+", "+runtime.Version())
	a.Add("GDAL", nil, gdal)
	a.Add("PROJ and its data", raster.SelfTest(), proj)
	a.Add("SQLite", nil, store.Version())
	a.Add("weight classes", classErr, fmt.Sprintf("%d", classCount))
	if _, err := holding.DefaultClasses(); err != nil {
		a.Add("built-in weight classes", err, "")
	}
	return a
}

// DoctorOptions say how a catalogue is examined.
type DoctorOptions struct {
	store.Options
	IsOptional bool   // that there is none is no fault
	Repair     bool   // what the rest of the catalogue proves
	By         string // for the history of a repair
}

// ExamineCatalog adds the faults of the catalogue at a path and, if asked, what was repaired.
func (a *Doctor) ExamineCatalog(ctx context.Context, path string, o DoctorOptions) {
	if isThere, _ := store.Exists(ctx, path); !isThere && o.IsOptional && !o.Repair {
		a.Add("catalogue", nil, fmt.Sprintf("none at %s; create one with gradeline survey", path))
		return
	}
	if o.Repair {
		r, err := store.RepairFile(ctx, path, o.By, o.Options)
		a.AddCatalog(store.NameOf(path), r, err)
		a.AddDrives(ctx, path, o.Options)
		return
	}
	a.AddDatabase(ctx, path)
	found, err := store.ExamineFile(ctx, path, o.Options)
	a.AddCatalog(store.NameOf(path), store.RepairReport{Left: found}, err)
	if len(found) == 0 && err == nil {
		a.AddDrives(ctx, path, o.Options)
	}
}

// Add adds a check: a fault with err, otherwise its result in words.
func (a *Doctor) Add(what string, err error, says string) {
	if err != nil {
		says = wording.OneLine(err.Error())
	}
	a.Checks = append(a.Checks, Check{What: what, OK: err == nil, Says: says})
}

// AddCatalog adds what was repaired in a catalogue and what faults are left; err is why
// it could not be examined or repaired.
func (a *Doctor) AddCatalog(path string, r store.RepairReport, err error) {
	for _, f := range r.Findings {
		if f.Repaired {
			a.Add("catalogue: "+f.Check, nil, fmt.Sprintf("repaired: %s: %s", f.Where, f.What))
		}
	}
	if r.Kept != "" {
		a.Add("catalogue: kept", nil, "the file as it was is "+r.Kept)
	}
	for _, f := range r.Left {
		a.Add("catalogue: "+f.Check, &catalog.Fault{Feature: f.Where, What: f.What, Fix: f.Fix}, "")
	}
	switch {
	case err != nil:
		a.Add("catalogue", err, "")
	case len(r.Left) == 0:
		a.Add("catalogue", nil, path+": no fault found")
	}
}

// AddDatabase adds what a database says of itself, and the rights that its owner may grant; nothing
// for a file.
func (a *Doctor) AddDatabase(ctx context.Context, address string) {
	if !shared.IsAddress(address) {
		return
	}
	h, err := shared.Examine(ctx, address)
	if err != nil {
		return // reported with the catalogue
	}
	a.Add("catalogue: database", nil, h.String())
	for _, r := range h.Rights {
		a.Add("rights: "+r.Role, nil, r.May+": "+strings.Join(r.Statements, "; "))
	}
}

// AddDrives adds what the kept drives say against the descents of a catalogue.
func (a *Doctor) AddDrives(ctx context.Context, path string, o store.Options) {
	o.ReadOnly = true
	cat, err := store.Open(ctx, path, o)
	if err != nil {
		return // reported with the catalogue
	}
	defer cat.Close() // only read
	list, err := survey.SayAllDrives(ctx, cat)
	if err != nil {
		a.Add("catalogue: drives", err, "")
		return
	}
	agree := 0
	for i := range list {
		if !list[i].IsAgainst() {
			agree++
			continue
		}
		for _, words := range list[i].Words() {
			a.Checks = append(a.Checks, Check{What: "catalogue: drives", OK: true, Look: true, Says: list[i].Descent + ": " + words})
		}
	}
	if agree > 0 {
		a.Add("catalogue: drives", nil, fmt.Sprintf("agree with the grade lines of %s", wording.Counted(agree, "descent")))
	}
}

// IsSound reports whether no check found a fault.
func (a *Doctor) IsSound() bool {
	for _, k := range a.Checks {
		if !k.OK {
			return false
		}
	}
	return true
}

// WriteText writes a line a check.
func (a *Doctor) WriteText(w io.Writer, _ catalog.Units) error {
	l := &lines{w: w}
	for _, k := range a.Checks {
		state := "ok   "
		switch {
		case !k.OK:
			state = "FAULT"
		case k.Look:
			state = "LOOK "
		}
		l.printf("%s  %-24s %s\n", state, k.What, k.Says)
	}
	return l.err
}
