package store

import (
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/compact"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// The columns of descents and holds. laterColumns were added in version 5: older rows have these
// fields, like all other details, in the JSON of the column more.
var (
	laterColumns  = []string{"gear_name", "surfaces_excluded", "class_figures"}
	descentRecord = gpkg.NewRecord(reflect.TypeFor[routes.Descent](), "descents")
	holdRecord    = gpkg.NewRecord(reflect.TypeFor[catalog.Hold](), "holds", laterColumns...)
	// adviceLayout is the layout of the packed details of holds, and adviceFields are their places
	// in a Hold.
	adviceLayout, adviceFields = layoutOfAdvice()
)

func layoutOfAdvice() (*compact.Layout, []int) {
	t := reflect.TypeFor[catalog.Hold]()
	names := holdRecord.MoreNames(append([]string{"weather"}, laterColumns...)...) // the weather is in class_figures
	l, err := compact.NewLayout(t, names)
	if err != nil { // a field of a kind that cannot be packed: every test fails
		panic(err)
	}
	var fields []int
	for _, name := range names {
		for i := range t.NumField() {
			if tag := t.Field(i).Tag.Get("json"); tag == name || len(tag) > len(name) && tag[:len(name)+1] == name+"," {
				fields = append(fields, i)
			}
		}
	}
	return l, fields
}

// heaviest holds the columns by which descents are ordered; see catalog.CompareDanger.
func heaviest(holds []catalog.Hold) (class string, rank int, speedMPS float64) {
	h := catalog.Heaviest(holds)
	if h == nil {
		return "", catalog.DangerRank(nil), 0
	}
	return h.Class, catalog.DangerRank(h), h.SpeedMPS
}
