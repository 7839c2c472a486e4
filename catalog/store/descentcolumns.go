package store

import (
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// The columns of descents and holds.
var (
	descentRecord = gpkg.NewRecord(reflect.TypeFor[routes.Descent](), "descents")
	holdRecord    = gpkg.NewRecord(reflect.TypeFor[catalog.Hold](), "holds")
)

// heaviest holds the columns that decide the order of lists; see catalog.CompareDanger.
func heaviest(holds []catalog.Hold) (class string, rank int, speedMPS float64) {
	h := catalog.Heaviest(holds)
	if h == nil {
		return "", catalog.DangerRank(nil), 0
	}
	return h.Class, catalog.DangerRank(h), h.SpeedMPS
}
