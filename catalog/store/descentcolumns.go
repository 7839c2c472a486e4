package store

import (
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// How descents and holds lie in their tables.
var (
	descentRecord = gpkg.NewRecord(reflect.TypeFor[routes.Descent](), "descents")
	holdRecord    = gpkg.NewRecord(reflect.TypeFor[catalog.Hold](), "holds")
)

// heaviest is what the columns say by which descents are listed; see
// catalog.CompareDanger.
func heaviest(holds []catalog.Hold) (class string, rank int, speedMPS float64) {
	h := catalog.Heaviest(holds)
	if h == nil {
		return "", catalog.DangerRank(nil), 0
	}
	return h.Class, catalog.DangerRank(h), h.SpeedMPS
}
