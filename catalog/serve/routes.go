package serve

import (
	"bytes"
	"compress/gzip"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
)

// routes are the addresses that are answered.
func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.listPage)
	m.HandleFunc("GET /descent/{id}", s.descentPage)
	m.HandleFunc("GET /descent/{id}/driver", s.driverPage)
	m.HandleFunc("GET /descent/{id}/heat", s.heatPicture)
	m.HandleFunc("GET /descent/{id}/gears", s.gearsPicture)
	m.HandleFunc("GET /files/{name}", s.fileOfList)
	m.HandleFunc("GET /map", s.mapJSON)
	m.HandleFunc("GET /tiles/{z}/{x}/{y}", s.tilePicture)
	m.HandleFunc("GET /review", s.queuePage)
	m.HandleFunc("POST /descent/{id}/review", s.review)
	m.HandleFunc("POST /units", s.setUnits)
	m.Handle("GET /static/{name}", staticFiles())
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusNotFound, "There is no such page.", "Begin at the list of descents.")
	})
	return m
}

// staticFile is an embedded file as it is sent.
type staticFile struct {
	kind          string
	plain, packed []byte // packed is nil where it gains nothing
}

// staticFiles serves style, scripts and pictures, by name and from memory.
func staticFiles() http.Handler {
	files := map[string]staticFile{}
	err := fs.WalkDir(assets, "assets/static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := assets.ReadFile(p)
		if err != nil {
			return err
		}
		f := staticFile{kind: mime.TypeByExtension(path.Ext(p)), plain: b}
		if strings.HasPrefix(f.kind, "text/") {
			f.packed = gzipped(b)
		}
		files[path.Base(p)] = f
		return nil
	})
	if err != nil {
		panic(err) // the files are part of the program
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, found := files[r.PathValue("name")]
		if !found {
			http.NotFound(w, r)
			return
		}
		h := w.Header()
		h.Set("Content-Type", f.kind)
		h.Set("Cache-Control", "private, max-age=600")
		b := f.plain
		if f.packed != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			h.Set("Content-Encoding", "gzip")
			b = f.packed
		}
		_, _ = w.Write(b)
	})
}

func gzipped(b []byte) []byte {
	var out bytes.Buffer
	z, _ := gzip.NewWriterLevel(&out, gzip.BestCompression) // the level is a valid one
	_, _ = z.Write(b)                                       // into memory
	_ = z.Close()
	return out.Bytes()
}
