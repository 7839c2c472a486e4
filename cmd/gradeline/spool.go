package main

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/catalog/store"
)

// A part of a spool's record.
type part int

// The parts, in the order in which they are written.
const (
	partMeta     part = iota // spoolMeta as JSON
	partRoute                // a member of routes[]
	partDescents             // members of descents[], with commas between
	partSkipped              // members of skipped[], the same
	partChanges              // a member of changes[]
	partProfile              // rows of the profile file
	partCount
)

// record is what one route gave, part by part.
type record [partCount][]byte

// spool keeps the answer of a survey on disk while it grows, a record a route, so
// that memory does not grow with the network. Each record carries its lengths and a
// checksum: what a killed run left is read up to its last whole record.
type spool struct {
	f    *os.File
	path string // empty: nobody else finds it
	ends int64  // of the whole records
	n    int
}

const (
	spoolMagic  = 0x474c5331
	recordHeadB = 4 * (2 + int(partCount))
	maxRecordB  = 1 << 30 // no record of a route is longer
)

var crcTable = crc32.MakeTable(crc32.Castagnoli)

// newSpool makes an empty spool; path "" makes one without a name.
func newSpool(path string) (*spool, error) {
	if path == "" {
		f, err := os.CreateTemp("", "gradeline-*")
		if err != nil {
			return nil, spoolFault(os.TempDir(), err)
		}
		return &spool{f: f}, os.Remove(f.Name())
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, spoolFault(path, err)
	}
	if err := lockFile(f); err != nil {
		return nil, errors.Join(spoolFault(path, err), f.Close(), os.Remove(path))
	}
	return &spool{f: f, path: path}, nil
}

func spoolFault(path string, err error) error {
	return &catalog.Fault{Kind: store.ErrWrite, File: path, What: "the survey's working file cannot be written", Err: unwrapPath(err), Fix: "check the folder and the space on its disk"}
}

// append adds a record in one write.
func (s *spool) append(r *record) error {
	b := make([]byte, recordHeadB, recordHeadB+len(r[partMeta])+len(r[partRoute])+len(r[partDescents])+len(r[partSkipped])+len(r[partChanges])+len(r[partProfile]))
	binary.LittleEndian.PutUint32(b, spoolMagic)
	for i, p := range r {
		binary.LittleEndian.PutUint32(b[8+4*i:], uint32(len(p)))
		b = append(b, p...)
	}
	if len(b) > maxRecordB {
		return spoolFault(s.path, errors.New("a route's record is longer than 1 GiB"))
	}
	binary.LittleEndian.PutUint32(b[4:], crc32.Checksum(b[8:], crcTable))
	if _, err := s.f.WriteAt(b, s.ends); err != nil {
		return spoolFault(s.path, err)
	}
	s.ends += int64(len(b))
	s.n++
	return nil
}

// head reads where the parts of the record at off lie; ok is false at the end and
// at what is no whole record.
func (s *spool) head(off, size int64) (at [partCount + 1]int64, sum uint32, ok bool) {
	var b [recordHeadB]byte
	if _, err := s.f.ReadAt(b[:], off); err != nil || binary.LittleEndian.Uint32(b[:]) != spoolMagic {
		return at, 0, false
	}
	at[0] = off + int64(recordHeadB)
	for i := range partCount {
		at[i+1] = at[i] + int64(binary.LittleEndian.Uint32(b[8+4*i:]))
	}
	return at, binary.LittleEndian.Uint32(b[4:]), at[partCount] <= size && at[partCount]-off <= maxRecordB
}

// each calls do with the offset of every record.
func (s *spool) each(do func(off int64) error) error {
	for off := int64(0); off < s.ends; {
		at, _, ok := s.head(off, s.ends)
		if !ok {
			return spoolFault(s.path, errors.New("it was damaged while in use"))
		}
		if err := do(off); err != nil {
			return err
		}
		off = at[partCount]
	}
	return nil
}

// read gives one record, checked.
func (s *spool) read(off int64) (*record, error) {
	at, sum, ok := s.head(off, s.ends)
	if !ok {
		return nil, spoolFault(s.path, errors.New("it was damaged while in use"))
	}
	b := make([]byte, at[partCount]-off)
	if _, err := s.f.ReadAt(b, off); err != nil {
		return nil, spoolFault(s.path, err)
	}
	if crc32.Checksum(b[8:], crcTable) != sum {
		return nil, spoolFault(s.path, errors.New("a record's checksum is wrong"))
	}
	var r record
	for i := range r {
		r[i] = b[at[i]-off : at[i+1]-off]
	}
	return &r, nil
}

// copy writes one part of every record that has it, with sep between.
func (s *spool) copy(w io.Writer, p part, sep string) error {
	first := true
	return s.each(func(off int64) error {
		at, _, _ := s.head(off, s.ends)
		if at[p] == at[p+1] {
			return nil
		}
		if !first {
			if _, err := io.WriteString(w, sep); err != nil {
				return err
			}
		}
		first = false
		_, err := io.Copy(w, io.NewSectionReader(s.f, at[p], at[p+1]-at[p]))
		return err
	})
}

// part reads one part of a record.
func (s *spool) part(off int64, p part) ([]byte, error) {
	at, _, _ := s.head(off, s.ends)
	b := make([]byte, at[p+1]-at[p])
	_, err := s.f.ReadAt(b, at[p])
	return b, err
}

// remove drops the spool.
func (s *spool) remove() {
	if s.path != "" {
		_ = os.Remove(s.path) // a leftover is found and dropped by the next survey
	}
	_ = s.f.Close()
}

// keep releases the spool and leaves its file.
func (s *spool) keep() { _ = s.f.Close() }

// reopenSpool opens what another run left and counts its whole records; nil where
// the file is in use or no spool.
func reopenSpool(path string) *spool {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil
	}
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() || lockFile(f) != nil {
		_ = f.Close()
		return nil
	}
	s := &spool{f: f, path: path}
	buf := make([]byte, 1<<16)
	for off := int64(0); ; {
		at, sum, ok := s.head(off, st.Size())
		if !ok {
			break
		}
		crc := crc32.New(crcTable)
		if _, err := io.CopyBuffer(crc, io.NewSectionReader(f, off+8, at[partCount]-off-8), buf); err != nil || crc.Sum32() != sum {
			break
		}
		off = at[partCount]
		s.ends = off
		s.n++
	}
	if s.n == 0 {
		_ = f.Close()
		return nil
	}
	return s
}

// spoolsOf lists the working files beside a catalogue.
func spoolsOf(catalogPath string) []string {
	dir, base := filepath.Split(catalogPath)
	list, err := os.ReadDir(filepath.Clean(dir + "."))
	if err != nil {
		return nil
	}
	var out []string
	for _, d := range list {
		if name := d.Name(); len(name) > len(base)+1 && name[:len(base)+1] == base+"." && filepath.Ext(name) == unfinishedExt {
			out = append(out, filepath.Join(dir, name))
		}
	}
	return out
}

// unfinishedExt ends the name of a survey's working file.
const unfinishedExt = ".unfinished"
