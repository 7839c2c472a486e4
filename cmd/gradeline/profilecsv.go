package main

import (
	"bufio"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// profileCSV writes the recovered grade lines, whole or not at all.
type profileCSV struct {
	path string
	f    *os.File
	w    *bufio.Writer
}

// newProfileCSV opens a temporary file beside path and writes the header.
func newProfileCSV(path string, force bool) (*profileCSV, error) {
	if _, err := os.Stat(path); err == nil && !force {
		return nil, &catalog.Fault{Kind: store.ErrWrite, File: path, What: "exists already", Fix: "give another name, or --force to overwrite it"}
	}
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return nil, &catalog.Fault{Kind: store.ErrWrite, File: path, What: "cannot be written", Err: unwrapPath(err), Fix: "check the folder"}
	}
	p := &profileCSV{path: path, f: f, w: bufio.NewWriterSize(f, 1<<16)}
	_, err = p.w.WriteString("route,station_m,ground_m,elevation_m,grade_pct,state\n")
	return p, err
}

// write adds one route, a row a station; a height that is not known is empty.
func (p *profileCSV) write(route string, pr *routes.Profile) error {
	cw := csv.NewWriter(p.w)
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

// close puts the file in place.
func (p *profileCSV) close() error {
	err := p.w.Flush()
	if err == nil {
		err = p.f.Sync()
	}
	if e := p.f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(p.f.Name(), p.path)
	}
	if err != nil {
		_ = os.Remove(p.f.Name()) // the first error is the one to report
		return &catalog.Fault{Kind: store.ErrWrite, File: p.path, What: "cannot be written", Err: unwrapPath(err), Fix: "check the disk"}
	}
	return nil
}

// remove drops an unfinished file.
func (p *profileCSV) remove() {
	_ = p.f.Close()
	_ = os.Remove(p.f.Name())
}
