package answer

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

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
				how = "our default; the edition does not decide it"
			}
			t.Notes = append(t.Notes, fmt.Sprintf("%s: %s (%s).", c.Question, c.Words, how))
		}
		t.Notes = append(append(t.Notes, sch.Notes...), sch.Cautions...)
		out = append(out, t)
		if len(sch.Panel) > 0 {
			header, rows := sch.PanelTable(u)
			out = append(out, tableOf("Speed panel by weight for "+sch.DescentID+", advice to an engineer", header, rows))
		}
		if all {
			out = append(out, a.postTable(i, u, false))
		}
	}
	if all && len(a.Schedules) > 0 {
		header, rows := signs.QuantityTable(signs.Quantities(a.Schedules))
		out = append(out, tableOf("Quantities", header, rows))
		header, rows = a.rules.SignTable()
		out = append(out, tableOf("Signs of the edition", header, rows))
		header, rows = a.rules.SourceTable()
		out = append(out, tableOf("Sources", header, rows))
	}
	if len(a.SteepParts) > 0 {
		out = append(out, a.partTable(u, all))
	}
	if len(a.Findings) > 0 {
		header, rows := signs.FindingTable(a.Findings, u)
		t := tableOf("Audit of the existing signs", header, rows)
		if !all {
			t = inMiles(only(t, []string{"kind", "number", "designation", "standing", "station_m", "station_ft", "off_by_m", "off_by_ft", "reason"}))
		}
		out = append(out, t)
	}
	return out
}

// postTable has the posts of one schedule, a row a face.
func (a *Signs) postTable(i int, u catalog.Units, isMany bool) table.Table {
	sch := &a.Schedules[i]
	header, rows := sch.PostTable(u)
	t := tableOf("Posts for "+sch.DescentID, header, rows)
	t.Rows = prepend(t.Rows, &t.Header, "descent", sch.DescentID, isMany)
	return t
}

func tableOf(title string, header []string, rows [][]string) table.Table {
	t := table.Table{Title: title, Header: slices.Clone(header)}
	for _, r := range rows {
		cells := make([]any, len(r))
		for i := range r {
			cells[i] = figureCell(r[i])
		}
		t.Rows = append(t.Rows, cells)
	}
	return t
}

// figureCell makes a figure of a text that is a plain number, so that a negative one is
// not taken for a formula.
func figureCell(text string) any {
	if strings.Trim(text, "0123456789.-") != "" {
		return text
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	_, decimals, _ := strings.Cut(text, ".")
	return table.Num{V: v, Decimals: len(decimals)}
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

// only returns the named columns.
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

// inMiles writes a screen's column of stations in feet as miles, followed by the feet; files have
// the plain figure.
func inMiles(t table.Table) table.Table {
	for i, h := range t.Header {
		if h != "station_ft" {
			continue
		}
		t.Header[i] = "station"
		for _, row := range t.Rows {
			if feet, ok := row[i].(table.Num); ok {
				row[i] = fmt.Sprintf("%s (%s)", catalog.US.Station(feet.V*catalog.FootM), catalog.US.Height(feet.V*catalog.FootM))
			}
		}
	}
	return t
}

// joined puts tables with the same columns under one header. The audit has other columns: it is
// only in the workbook and on the screen.
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
