package answer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
)

// FleetIDs reads a list of class ids with commas; none for "" and vehicle.EveryClass.
func FleetIDs(list string) []string {
	var ids []string
	for _, id := range strings.Split(list, ",") {
		if id = strings.TrimSpace(id); id != "" && id != vehicle.EveryClass {
			ids = append(ids, id)
		}
	}
	return ids
}

// SurveyFleet chooses the classes of a survey: those of a list of ids, else those of the fleet that
// the catalogue at a path keeps, else all. ids is the fleet for the catalogue to keep; nil changes
// nothing. A catalogue that does not exist yet has no fleet.
func SurveyFleet(ctx context.Context, path, list string, classes []vehicle.Class) (chosen []vehicle.Class, ids *[]string, err error) {
	wanted, from := FleetIDs(list), "--fleet"
	if list != "" {
		ids = &wanted
	} else if wanted, err = storedFleet(ctx, path); err != nil {
		return nil, nil, err
	} else if len(wanted) > 0 {
		from = "the fleet of " + store.NameOf(path) + " (--fleet chooses another)"
	}
	if chosen, err = vehicle.Fleet(classes, wanted); err != nil {
		return nil, nil, &catalog.Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("%s: %v", from, err)}
	}
	return chosen, ids, nil
}

func storedFleet(ctx context.Context, path string) ([]string, error) {
	cat, err := store.Open(ctx, path, store.Options{ReadOnly: true})
	if errors.Is(err, catalog.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return cat.Fleet(ctx)
}

// FleetOf returns the ids of an answer's classes: the requested ones, each of which must be in the
// catalogue, or those of the fleet that the catalogue keeps. None means every class.
func FleetOf(ctx context.Context, cat *store.Catalog, asked string) ([]string, error) {
	if asked == "" {
		return cat.Fleet(ctx)
	}
	ids := FleetIDs(asked)
	for _, id := range ids {
		if err := CheckClass(ctx, cat, id); err != nil {
			return nil, err
		}
	}
	return ids, nil
}

// FleetWords name an answer's classes where the catalogue has others too; "" where it has not.
func FleetWords(ctx context.Context, cat *store.Catalog, fleet []string) (string, error) {
	if len(fleet) == 0 {
		return "", nil
	}
	known, err := cat.ClassIDs(ctx)
	if err != nil || !slices.ContainsFunc(known, func(id string) bool { return !slices.Contains(fleet, id) }) {
		return "", err
	}
	return "only the classes of the fleet: " + strings.Join(fleet, ", ") + "; --fleet " + vehicle.EveryClass + " shows every class", nil
}

// Fleet says which classes the answers of a catalogue are for.
type Fleet struct {
	Schema  string   `json:"schema"`
	Catalog string   `json:"catalog"`
	Fleet   []string `json:"fleet"` // none for every class
}

// NewFleet is the answer for a catalogue.
func NewFleet(ctx context.Context, cat *store.Catalog) (*Fleet, error) {
	ids, err := cat.Fleet(ctx)
	return &Fleet{Schema: catalog.Schema, Catalog: cat.Path(), Fleet: notNil(ids)}, err
}

// WriteText writes the sentence that people read.
func (a *Fleet) WriteText(w io.Writer, _ catalog.Units) error {
	if len(a.Fleet) == 0 {
		_, err := fmt.Fprintf(w, "%s has no fleet: answers are for every weight class.\n", a.Catalog)
		return err
	}
	_, err := fmt.Fprintf(w, "The fleet of %s: %s.\n", a.Catalog, strings.Join(a.Fleet, ", "))
	return err
}
