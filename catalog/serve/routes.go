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

// routes registers the addresses that are answered.
func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.listPage)
	m.HandleFunc("GET /descent/{id}", s.descentPage)
	m.HandleFunc("GET /descent/{id}/driver", s.driverPage)
	m.HandleFunc("GET /descent/{id}/heat", s.heatPicture)
	m.HandleFunc("GET /descent/{id}/gears", s.gearsPicture)
	m.HandleFunc("GET /descent/{id}/line", s.lineJSON)
	m.HandleFunc("GET /files/{name}", s.fileOfList)
	m.HandleFunc("GET /map", s.mapJSON)
	m.HandleFunc("GET /tiles/{z}/{x}/{y}", s.tilePicture)
	m.HandleFunc("GET /review", s.queuePage)
	m.HandleFunc("POST /descent/{id}/review", s.review)
	m.HandleFunc("GET /whatif", s.whatIfPage)
	m.HandleFunc("POST /whatif", s.whatIfAnswer)
	m.HandleFunc("GET /ways", s.waysPage)
	m.HandleFunc("GET /ways/driver", s.wayDriverPage)
	m.HandleFunc("GET /surveys", s.workPage)
	m.HandleFunc("POST /surveys", s.beginWork)
	m.HandleFunc("POST /surveys/end", s.endWork)
	m.HandleFunc("GET /surveys/events", s.workEvents)
	m.HandleFunc("GET /machines", s.spreadPage)
	m.HandleFunc("GET /enter", s.enterPage)
	m.HandleFunc("POST /enter", s.enter)
	m.HandleFunc("POST /out", s.goOut)
	m.HandleFunc("POST /units", s.setUnits)
	m.Handle("GET /static/{name}", s.static)
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusNotFound, "There is no such page.", "Start at the list of descents.")
	})
	return m
}

// staticFile is an embedded file as it is sent.
type staticFile struct {
	kind          string
	plain, packed []byte // packed is nil where compression does not help; plain is nil where only packed exists
}

// staticFiles are style, scripts and pictures, by name and in memory.
type staticFiles map[string]staticFile

func (f staticFiles) has(name string) bool { _, found := f[name]; return found }

// newStaticFiles reads the embedded files, and the browser's programs where they were built in.
func newStaticFiles(programs fs.FS) (staticFiles, error) {
	files := staticFiles{}
	own, err := fs.Sub(assets, "assets/static")
	if err != nil {
		return nil, err
	}
	if programs == nil {
		if programs, err = fs.Sub(assets, "assets/wasm"); err != nil {
			return nil, err
		}
	}
	for _, from := range []fs.FS{own, programs} {
		list, err := fs.Glob(from, "*.*")
		if err != nil {
			return nil, err
		}
		for _, name := range list {
			b, err := fs.ReadFile(from, name)
			if err != nil {
				return nil, err
			}
			if plain, isPacked := strings.CutSuffix(name, ".gz"); isPacked {
				files[plain] = staticFile{kind: mime.TypeByExtension(path.Ext(plain)), packed: b}
				continue
			}
			f := staticFile{kind: mime.TypeByExtension(path.Ext(name)), plain: b}
			if strings.HasPrefix(f.kind, "text/") {
				f.packed = gzipped(b, gzip.BestCompression)
			}
			files[name] = f
		}
	}
	return files, nil
}

func (f staticFiles) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	file, found := f[r.PathValue("name")]
	if !found {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", file.kind)
	h.Set("Cache-Control", "private, max-age=600")
	b := file.plain
	if b == nil || file.packed != nil && acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip") // which every browser takes
		b = file.packed
	}
	_, _ = w.Write(b)
}

func acceptsGzip(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept-Encoding"), "gzip")
}

func gzipped(b []byte, level int) []byte {
	var out bytes.Buffer
	z, _ := gzip.NewWriterLevel(&out, level) // the levels are valid ones
	_, _ = z.Write(b)                        // into memory
	_ = z.Close()
	return out.Bytes()
}
