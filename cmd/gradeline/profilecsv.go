package main

import (
	"encoding/csv"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// profileHeader is the first line of a profile file.
const profileHeader = "route,station_m,ground_m,elevation_m,grade_pct,state\n"

// profileCanBeWritten says early what would be in the way of a profile file.
func profileCanBeWritten(path string, force bool) error {
	if _, err := os.Stat(path); err == nil && !force {
		return &catalog.Fault{Kind: store.ErrWrite, File: path, What: "exists already", Fix: "give another name, or --force to overwrite it"}
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return &catalog.Fault{Kind: store.ErrWrite, File: path, What: "cannot be written", Err: unwrapPath(err), Fix: "check the folder"}
	}
	_ = f.Close()
	return os.Remove(f.Name())
}

// writeRows writes one route's grade line, a row a station; a height that is not
// known is empty.
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
		if err := cw.Write([]string{csvSafe(route), num(pr.StationM(i), 3), num(pr.GroundM[i], 3), num(pr.ElevationM[i], 3), num(grade, 4), pr.State[i].String()}); err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}

// csvSafe keeps a spreadsheet from running a name as a formula.
func csvSafe(s string) string {
	if s != "" && (s[0] == '=' || s[0] == '+' || s[0] == '-' || s[0] == '@') {
		return "'" + s
	}
	return s
}
