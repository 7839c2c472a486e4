package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared"
)

// RepairReport lists the repairs of RepairFile.
type RepairReport struct {
	Findings []Defect `json:"findings"` // what was wrong; Repaired where it was repaired
	Left     []Defect `json:"left"`     // what is still wrong
	// Kept is the path of the original file, if a clean one replaced it.
	Kept string `json:"kept"`
}

// ExamineFile looks for damage to the catalogue at path, even if Open refuses its schema. It writes
// nothing.
func ExamineFile(ctx context.Context, path string, o Options) ([]Defect, error) {
	open := gpkg.OpenForExamination
	if shared.IsAddress(path) { // the local copy has only definitions of this program
		open, o.ReadOnly = shared.Open, true
	}
	f, err := open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	c := &Catalog{file: f}
	defer c.Close()
	return c.Doctor(ctx)
}

// RepairFile repairs faults of the catalogue at path that can be proved from the rest of the file.
// A file whose schema Open refuses is kept under another name, and its data are copied into a clean
// one.
func RepairFile(ctx context.Context, path, by string, o Options) (RepairReport, error) {
	out := RepairReport{Findings: []Defect{}, Left: []Defect{}}
	c, err := Open(ctx, path, o)
	if errors.Is(err, gpkg.ErrSchema) {
		if out.Findings, err = ExamineFile(ctx, path, o); err != nil {
			return out, err
		}
		if out.Kept, out.Left, err = takeOver(ctx, path, by, o); err != nil {
			return out, err
		}
		for i := range out.Findings {
			out.Findings[i].Repaired = out.Findings[i].Check == gpkg.CheckSchema
		}
		c, err = Open(ctx, path, o)
	}
	if err != nil {
		return out, err
	}
	defer c.Close()
	found, err := c.Repair(ctx, by)
	out.Findings = append(out.Findings, found...)
	if err != nil {
		return out, err
	}
	left, err := c.Doctor(ctx)
	out.Left = append(out.Left, left...)
	return out, err
}

// takeOver replaces the file by a clean catalogue with the same data.
func takeOver(ctx context.Context, path, by string, o Options) (kept string, left []Defect, err error) {
	dir, err := os.MkdirTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return "", nil, &Fault{Kind: ErrWrite, File: path, What: "cannot be repaired", Err: err, Fix: "check that its folder can be written and has space"}
	}
	defer os.RemoveAll(dir)
	clean := filepath.Join(dir, "clean.gpkg")
	lost, err := copyClean(ctx, path, clean, by, o)
	if err != nil {
		return "", nil, err
	}
	if err := gpkg.CheckNoJournal(path); err != nil {
		return "", nil, err
	}
	if kept, err = keepAs(path, "refused"); err != nil {
		return "", nil, err
	}
	left = []Defect{}
	for _, table := range lost {
		left = append(left, Defect{Check: gpkg.CheckSchema, Where: "table " + table, What: "it was not a table; its rows are lost", Fix: "survey the roads again, or restore the last copy; the original file is at  " + kept})
	}
	if err := os.Rename(clean, path); err != nil {
		return "", nil, &Fault{Kind: ErrWrite, File: path, What: "cannot be replaced", Err: err, Fix: "the original file is also at  " + kept}
	}
	return kept, left, gpkg.SyncDir(filepath.Dir(path))
}

func copyClean(ctx context.Context, path, clean, by string, o Options) (lost []string, err error) {
	from, err := gpkg.OpenForExamination(ctx, path, o)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	to, err := gpkg.Open(ctx, clean, gpkg.Options{Create: true, Tool: o.Tool, Now: o.Now})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	_, lost, err = from.TakeOver(ctx, to, by)
	return lost, err
}

// keepAs gives the file a second name in the same folder, never over another file.
func keepAs(path, word string) (string, error) {
	base := strings.TrimSuffix(path, ".gpkg") + ".kept-" + word
	for i := range 1000 {
		name := base + ".gpkg"
		if i > 0 {
			name = fmt.Sprintf("%s-%d.gpkg", base, i)
		}
		err := os.Link(path, name)
		switch {
		case err == nil:
			return name, nil
		case errors.Is(err, os.ErrExist):
			continue
		}
		if _, e := os.Lstat(name); e == nil {
			continue
		}
		if err := os.Rename(path, name); err != nil { // a file system without hard links
			return "", &Fault{Kind: ErrWrite, File: path, What: "cannot be kept under another name", Err: err, Fix: "check its folder"}
		}
		return name, nil
	}
	return "", &Fault{Kind: ErrWrite, File: path, What: "its folder already holds a thousand kept files", Fix: "remove old ones"}
}
