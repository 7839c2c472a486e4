package holding

import (
	"encoding/gob"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"gradeline/terrain/synth"
)

var drawnKeep = flag.String("drawn.keep", "", "directory in which surveys of drawn roads are kept, so that other advice can be tried on them without drawing them again")

// keptDrawn is surveyDrawn, or what it gave before where surveys are kept.
func keptDrawn(o synth.Options) ([]drawnHill, error) {
	if *drawnKeep == "" {
		return surveyDrawn(o)
	}
	name := filepath.Join(*drawnKeep, fmt.Sprintf("%d-%d-%g.gob", o.Kind, o.Seed, o.CellM))
	var list []drawnHill
	if f, err := os.Open(name); err == nil {
		defer f.Close()
		return list, gob.NewDecoder(f).Decode(&list)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	list, err := surveyDrawn(o)
	if err != nil {
		return nil, err
	}
	for i := range list { // only what a hill is made from
		p := *list[i].Profile
		p.GroundM, p.LateralM, p.Points, p.RadiusM = nil, nil, nil, nil
		list[i].Profile = &p
	}
	f, err := os.CreateTemp(*drawnKeep, "new")
	if err != nil {
		return nil, err
	}
	if err := errors.Join(gob.NewEncoder(f).Encode(list), f.Close()); err != nil {
		return nil, err
	}
	return list, os.Rename(f.Name(), name)
}
