package serve

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/terrain"
)

// fileLink is a download of a list.
type fileLink struct{ Label, Address string }

// fileKinds are the files of a list, in the order of the page.
var fileKinds = []struct{ name, label, kind string }{
	{"report.html", "Report with map and profiles (HTML)", "text/html; charset=utf-8"},
	{"hills.xlsx", "Workbook (XLSX)", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"},
	{"hills.csv", "Table (CSV)", "text/csv; charset=utf-8"},
	{"hills.txt", "Text for a mail", "text/plain; charset=utf-8"},
	{"hills.geojson", "Lines for a map (GeoJSON)", "application/geo+json"},
	{"hills.gpkg", "Catalogue of these descents (GeoPackage)", "application/geopackage+sqlite3"},
	{sheetsFile, "Driver's pages for this class (PDFs in a ZIP)", "application/zip"},
}

// sheetsFile are the driver's pages of a list: of one class, so one must be chosen.
const sheetsFile = "driver-pages.zip"

func filesOf(q *query) []fileLink {
	var out []fileLink
	for _, k := range fileKinds {
		if k.name == sheetsFile && q.Class == "" {
			continue
		}
		address := "/files/" + k.name
		if v := q.Values().Encode(); v != "" {
			address += "?" + v
		}
		out = append(out, fileLink{k.label, address})
	}
	return out
}

// mostReportRows is the largest number of descents in one report; each has a drawing.
const mostReportRows = 300

// fileOfList sends a file of the descents that the query chooses.
func (s *Server) fileOfList(w http.ResponseWriter, r *http.Request) {
	q, now, rows, err := s.chosenBy(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f, steep := store.Filter{IDs: []string{}, WithRetired: true}, q.chosenParts(&now.steep)
	for _, x := range rows {
		f.IDs = append(f.IDs, x.id)
	}
	for _, k := range fileKinds {
		if k.name == r.PathValue("name") {
			s.send(w, r, k.name, k.kind, true, func(ctx context.Context, out *os.File) error {
				return s.writeList(ctx, out, listFile{f, steep, q.Class, s.unitsOf(r)})
			})
			return
		}
	}
	s.refuse(w, r, http.StatusNotFound, "There is no such file.", "The page of descents lists its files.")
}

// listFile is the content of a file of the list.
type listFile struct {
	filter store.Filter // of descents
	steep  store.SteepParts
	class  string
	units  catalog.Units
}

// writeList writes a list into an open file, in the format of its name.
func (s *Server) writeList(ctx context.Context, out *os.File, l listFile) error {
	f := l.filter
	switch ending := filepath.Ext(out.Name()); ending {
	case ".html":
		if len(f.IDs) > mostReportRows {
			return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a report of %d descents is too large for one page", len(f.IDs)), Fix: fmt.Sprintf("narrow the list to %d", mostReportRows)}
		}
		es, err := s.cat.Descents(ctx, f)
		if err != nil {
			return err
		}
		report, err := answer.ReportFor(ctx, s.cat, es, answer.ReportOptions{Title: "Mountain descents", Units: l.units, Class: l.class, Classes: s.opt.Classes, Steep: &l.steep, Program: s.program()})
		if err != nil {
			return err
		}
		return page.ReportHTML(out, report)
	case ".geojson":
		o, err := answer.NewOverlay(ctx, s.cat, answer.OverlayRequest{Kind: "descents", Filter: f, Steep: &l.steep})
		if err != nil {
			return err
		}
		return o.WriteGeoJSON(out)
	case ".zip":
		return s.writeSheets(ctx, out, f, l.class)
	case ".gpkg":
		_, err := s.cat.Subset(ctx, out.Name(), f, store.SubsetOptions{Words: "downloaded from the office's page", Replace: true})
		return err
	default:
		write, err := answer.ListFile(ctx, s.cat, f, &l.steep, ending)
		if err != nil {
			return err
		}
		return write(out, l.units)
	}
}

// program lets a saved report try other trucks; nil where it was not built in, or with classes that it
// does not know.
func (s *Server) program() *page.Program {
	if !s.answersInPage() {
		return nil
	}
	return &page.Program{Packed: s.static["whatif.wasm"].packed, Start: s.static["wasm_exec.js"].plain}
}

// Program is that of the office's page for a report; nil where it was not built in.
func Program() (*page.Program, error) {
	f, err := newStaticFiles(nil)
	if err != nil || !f.has("whatif.wasm") {
		return nil, err
	}
	return &page.Program{Packed: f["whatif.wasm"].packed, Start: f["wasm_exec.js"].plain}, nil
}

// mostSheets is the largest number of driver's pages in one file: each takes a moment to make.
const mostSheets = 100

// writeSheets writes a driver's page for each descent into a ZIP. Descents without a page are named
// in a separate file, so that nobody mistakes the pages for all descents.
func (s *Server) writeSheets(ctx context.Context, out *os.File, f store.Filter, class string) error {
	if class == "" || len(f.IDs) > mostSheets {
		return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("driver's pages of %d descents for class %q", len(f.IDs), class), Fix: fmt.Sprintf("choose a class and at most %d descents", mostSheets)}
	}
	es, err := s.cat.Descents(ctx, f)
	if err != nil {
		return err
	}
	dir := filepath.Join(filepath.Dir(out.Name()), "pages")
	if err := os.Mkdir(dir, 0o700); err != nil {
		return err
	}
	gaps, err := answer.WriteSheets(ctx, s.cat, es, dir, false, answer.SheetOptions{Class: class, Classes: s.opt.Classes, Printed: s.opt.Now()})
	if err != nil {
		return err
	}
	z := zip.NewWriter(out)
	if err := z.AddFS(os.DirFS(dir)); err != nil {
		return err
	}
	if len(gaps) > 0 {
		w, err := z.Create("MISSING.txt")
		if err != nil {
			return err
		}
		if _, err := io.WriteString(w, strings.Join(gaps, "\n")+"\n"); err != nil {
			return err
		}
	}
	return z.Close()
}

// send writes a file completely into a temporary folder and only then sends it: an error never cuts
// a download short, and a slow reader does not keep the catalogue busy.
func (s *Server) send(w http.ResponseWriter, r *http.Request, name, kind string, isDownload bool, write func(context.Context, *os.File) error) {
	dir, err := os.MkdirTemp("", "gradeline-serve-")
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, name)
	out, err := os.Create(path)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	err = write(r.Context(), out)
	if closed := out.Close(); err == nil {
		err = closed
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	ready, err := os.Open(path) // opened again, since writing a catalogue replaces the file
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer ready.Close()
	h := w.Header()
	h.Set("Content-Type", kind)
	if isDownload {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	}
	if info, err := ready.Stat(); err == nil {
		h.Set("Content-Length", fmt.Sprint(info.Size()))
	}
	_, _ = io.Copy(w, ready) // a reader who has gone needs nothing
}
