package survey

import (
	"bufio"
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"gradeline/catalog/wording"
	"gradeline/routes"
)

// profileHeader is the first line of a profile file.
const profileHeader = "route,station_m,ground_m,elevation_m,grade_pct,state\n"

// WriteProfile writes the grade lines of all routes as CSV, one row for each station: heights and
// stations in metres, signed grade in per cent forward to the next station. A height that
// is not known is empty. The job must keep profiles.
func (j *Job) WriteProfile(w io.Writer) error {
	b := bufio.NewWriterSize(w, 1<<16)
	if _, err := b.WriteString(profileHeader); err != nil {
		return err
	}
	for rows, err := range j.journal.parts(partProfile) {
		if err == nil {
			_, err = b.Write(rows)
		}
		if err != nil {
			return err
		}
	}
	return b.Flush()
}

// writeRows writes one route's rows.
func writeRows(w io.Writer, route string, pr *routes.Profile) error {
	cw := csv.NewWriter(w)
	num := func(v float64, decimals int) string {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', decimals, 64)
	}
	for i := range pr.ElevationM {
		grade := math.NaN()
		switch {
		case pr.Count() < 2:
		case i+1 < pr.Count():
			grade = pr.GradePct(i)
		default:
			grade = pr.GradePct(i - 1)
		}
		if err := cw.Write([]string{wording.SpreadsheetText(route), num(pr.StationM(i), 3), num(pr.GroundM[i], 3), num(pr.ElevationM[i], 3), num(grade, 4), pr.State[i].String()}); err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}
