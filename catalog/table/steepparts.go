package table

import (
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// SteepPartsTable is one row for each steep part outside any descent, in the order given.
func SteepPartsTable(parts []catalog.SteepPart, u catalog.Units) Table {
	far := wording.LengthUnit(u)
	t := Table{Title: "Steep parts outside descents", Header: []string{
		"Name", "Route", "Direction along the line", "From station (" + far.Name + ")", "To station (" + far.Name + ")", "Length (" + far.Name + ")",
		"Mean downgrade (%)", "± 95 % (points)", "Flags",
	}}
	for i := range parts {
		p := &parts[i]
		t.Rows = append(t.Rows, []any{wording.PartTitle(p), p.Route, p.Direction.String(), num(far, p.StartM, 2), num(far, p.EndM, 2), num(far, p.LengthM, 2),
			Num{p.MeanDowngradePct, 1}, boundCell(p.MeanDowngradeErrPct), orNone(strings.Join(p.Flags, ", "))})
	}
	if wording.AnyInventedPart(parts) {
		t.Notes = append(t.Notes, wording.InventedBanner)
	}
	t.Notes = append(t.Notes, wording.AboutSteepParts)
	t.Notes = append(t.Notes, catalog.Cautions()...)
	return t
}
