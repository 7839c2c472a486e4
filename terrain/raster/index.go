package raster

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"fmt"
	"hash/fnv"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// indexFormat changes whenever header or its meaning does.
const indexFormat = "gradeline raster index 3"

// index keeps the headers of a folder's files between runs. It is a file in the user's cache
// folder, named after the folder's absolute path. An entry is valid only while the file, and its
// neighbours with the same stem, keep their size and time. A failure of the index itself is not an
// error: the files are read instead.
type index struct {
	dir, file string // file is empty if nothing is kept
	entries   map[string]*indexEntry
	beside    map[string]map[string][]string // folder, first part of the name, names
	dirty     bool
}

type indexEntry struct {
	Rel     string
	Size    int64
	TimeNS  int64
	Beside  uint64
	VRT     bool
	CRS     int
	Header  header
	touched bool
}

type indexFile struct {
	Version string
	CRS     []crsText
	Entries []*indexEntry
}

func indexVersion() string {
	gdal, proj := Version()
	return indexFormat + ", GDAL " + gdal + ", PROJ " + proj
}

// openIndex loads the index of dir; with keep false nothing is read or stored.
func openIndex(dir string, keep bool) *index {
	ix := &index{dir: dir, entries: map[string]*indexEntry{}, beside: map[string]map[string][]string{}}
	abs, err := filepath.Abs(dir)
	cache, err2 := os.UserCacheDir()
	if err != nil || err2 != nil || !keep {
		return ix
	}
	sum := sha256.Sum256([]byte(abs))
	ix.file = filepath.Join(cache, "gradeline", "tiles", hex.EncodeToString(sum[:16])+".idx")
	text, err := os.ReadFile(ix.file)
	if err != nil || len(text) < sha256.Size {
		return ix
	}
	body := text[sha256.Size:]
	if sum := sha256.Sum256(body); !bytes.Equal(sum[:], text[:sha256.Size]) {
		return ix
	}
	var in indexFile
	if err := gob.NewDecoder(bytes.NewReader(body)).Decode(&in); err != nil || in.Version != indexVersion() {
		return ix
	}
	for _, e := range in.Entries {
		if e.CRS >= 0 && e.CRS < len(in.CRS) {
			e.Header.CRS = in.CRS[e.CRS]
			ix.entries[e.Rel] = e
		}
	}
	return ix
}

// look returns the header of a file, from the index or by opening it. For a VRT it only reports the
// kind.
func (ix *index) look(path string) (*header, bool, error) {
	st, err := os.Stat(path)
	if err != nil {
		return nil, false, unreadable(path, pathErr(err), "check the path")
	}
	rel, relErr := filepath.Rel(ix.dir, path)
	now := &indexEntry{Rel: rel, Size: st.Size(), TimeNS: changedNS(st), touched: true}
	if ix.file != "" && relErr == nil {
		now.Beside = ix.besideSum(path)
		if e := ix.entries[rel]; e != nil && e.Size == now.Size && e.TimeNS == now.TimeNS && e.Beside == now.Beside {
			e.touched = true
			return &e.Header, e.VRT, nil
		}
	}
	if now.VRT, err = startsAsVRT(path); err != nil {
		return nil, false, err
	}
	if !now.VRT {
		h, err := readHeader(path, false, openConfig)
		if err != nil {
			return nil, false, err
		}
		now.Header = *h
	}
	ix.entries[rel], ix.dirty = now, true
	return &now.Header, now.VRT, nil
}

// vrtHeader returns the header of a VRT whose text was checked.
func (ix *index) vrtHeader(path string) (*header, error) {
	rel, err := filepath.Rel(ix.dir, path)
	e := ix.entries[rel]
	if err == nil && e != nil && e.VRT && e.Header.Cols > 0 {
		return &e.Header, nil
	}
	h, err := readHeader(path, true, openConfig)
	if err == nil && e != nil {
		e.Header, ix.dirty = *h, true
	}
	return h, err
}

// besideSum is a check sum of name, size and time of the files that share path's stem.
func (ix *index) besideSum(path string) uint64 {
	dir, base := filepath.Split(path)
	names := ix.beside[dir]
	if names == nil {
		names = map[string][]string{}
		ix.beside[dir] = names
		list, err := os.ReadDir(filepath.Clean(dir + "."))
		if err == nil {
			for _, d := range list {
				first, _, _ := strings.Cut(d.Name(), ".")
				names[first] = append(names[first], d.Name())
			}
		}
	}
	first, _, _ := strings.Cut(base, ".")
	stem := strings.TrimSuffix(base, filepath.Ext(base)) + "."
	sum := fnv.New64a()
	for _, n := range names[first] {
		if n == base || !strings.HasPrefix(n, stem) {
			continue
		}
		if st, err := os.Stat(dir + n); err == nil {
			fmt.Fprintf(sum, "%q %d %d\n", n, st.Size(), changedNS(st))
		}
	}
	return sum.Sum64()
}

// save writes the index, complete or not at all.
func (ix *index) save() {
	if ix.file == "" || !ix.dirty {
		return
	}
	out := indexFile{Version: indexVersion()}
	numbers := map[crsText]int{}
	for _, e := range ix.entries {
		if !e.touched {
			if _, err := os.Stat(filepath.Join(ix.dir, e.Rel)); err != nil {
				continue
			}
		}
		kept := *e
		n, ok := numbers[e.Header.CRS]
		if !ok {
			n = len(out.CRS)
			numbers[e.Header.CRS] = n
			out.CRS = append(out.CRS, e.Header.CRS)
		}
		kept.CRS, kept.Header.CRS = n, crsText{}
		out.Entries = append(out.Entries, &kept)
	}
	sort.Slice(out.Entries, func(a, b int) bool { return out.Entries[a].Rel < out.Entries[b].Rel })
	var body bytes.Buffer
	if gob.NewEncoder(&body).Encode(&out) != nil {
		return
	}
	sum := sha256.Sum256(body.Bytes())
	_ = writeWhole(ix.file, append(sum[:], body.Bytes()...)) // the index is a convenience
}

// writeWhole writes a temporary file in the same folder and renames it.
func writeWhole(path string, text []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
