package answer

import (
	"fmt"
	"slices"
	"strconv"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/table"
)

// screenColumns are the columns of a schedule that fit a screen; files have all.
var screenColumns = []string{"number", "station_m", "station_ft", "side", "role", "designation", "plaques", "legend", "need", "conflicts"}

// tables are one for each schedule, and one for the audit.
func (a *Signs) tables(u catalog.Units, all bool) []table.Table {
	var out []table.Table
	for i := range a.Schedules {
		sch := &a.Schedules[i]
		header, rows := sch.Table(u)
		t := tableOf(fmt.Sprintf("Signs for %s (%s), %s", sch.Name, sch.DescentID, sch.Title), header, rows)
		t.Rows = prepend(t.Rows, &t.Header, "descent", sch.DescentID, all)
		if !all {
			t = inMiles(only(t, screenColumns))
		}
		for _, c := range sch.Choices {
			how := "chosen"
			if c.Default {
				how = "our default; the edition leaves it open"
			}
			t.Notes = append(t.Notes, fmt.Sprintf("%s: %s (%s).", c.Question, c.Words, how))
		}
		t.Notes = append(append(t.Notes, sch.Notes...), sch.Cautions...)
		out = append(out, t)
	}
	if all && len(a.Schedules) > 0 {
		header, rows := signs.QuantityTable(signs.Quantities(a.Schedules))
		out = append(out, tableOf("Quantities", header, rows))
	}
	if len(a.Findings) > 0 {
		header, rows := signs.FindingTable(a.Findings, u)
		t := tableOf("Audit of the signs that stand", header, rows)
		if !all {
			t = inMiles(only(t, []string{"kind", "number", "designation", "standing", "station_m", "station_ft", "off_by_m", "off_by_ft", "reason"}))
		}
		out = append(out, t)
	}
	return out
}

func tableOf(title string, header []string, rows [][]string) table.Table {
	t := table.Table{Title: title, Header: slices.Clone(header)}
	for _, r := range rows {
		cells := make([]any, len(r))
		for i := range r {
			cells[i] = r[i]
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// prepend puts a first column before the others where on.
func prepend(rows [][]any, header *[]string, name, value string, on bool) [][]any {
	if !on {
		return rows
	}
	*header = append([]string{name}, *header...)
	for i := range rows {
		rows[i] = append([]any{value}, rows[i]...)
	}
	return rows
}

// only keeps the named columns.
func only(t table.Table, names []string) table.Table {
	var keep []int
	for i, h := range t.Header {
		if slices.Contains(names, h) {
			keep = append(keep, i)
		}
	}
	pick := func(i int) string { return t.Header[i] }
	header := make([]string, 0, len(keep))
	for _, i := range keep {
		header = append(header, pick(i))
	}
	for r := range t.Rows {
		row := make([]any, 0, len(keep))
		for _, i := range keep {
			row = append(row, t.Rows[r][i])
		}
		t.Rows[r] = row
	}
	t.Header = header
	return t
}

// inMiles writes a screen's column of stations in feet as miles, the feet beside
// them; files keep the plain figure.
func inMiles(t table.Table) table.Table {
	for i, h := range t.Header {
		if h != "station_ft" {
			continue
		}
		t.Header[i] = "station"
		for _, row := range t.Rows {
			if feet, err := strconv.ParseFloat(fmt.Sprint(row[i]), 64); err == nil {
				row[i] = fmt.Sprintf("%s (%s)", catalog.US.Station(feet*catalog.FootM), catalog.US.Height(feet*catalog.FootM))
			}
		}
	}
	return t
}

// joined puts tables of the same columns under one header; the audit, which has
// others, is left to the workbook and the screen.
func joined(ts []table.Table) table.Table {
	var out table.Table
	for i, t := range ts {
		if i == 0 {
			out.Title, out.Header = t.Title, t.Header
		}
		if slices.Equal(t.Header, out.Header) {
			out.Rows = append(out.Rows, t.Rows...)
			for _, n := range t.Notes {
				if !slices.Contains(out.Notes, n) {
					out.Notes = append(out.Notes, n)
				}
			}
		}
	}
	return out
}
