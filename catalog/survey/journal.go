package survey

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"iter"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/catalog/store"
)

// part names one part of a journal's record.
type part int

// The parts, in the order in which they are written.
const (
	partFacts    part = iota // recordFacts as JSON
	partRoute                // a RouteFacts as JSON
	partDescents             // DescentFacts as JSON, with commas between
	partSkipped              // routes.Skipped as JSON, the same
	partChanges              // store.Changes as JSON
	partProfile              // rows of the profile file
	partCount
)

// record is the result of one route, part by part.
type record [partCount][]byte

// journal keeps the answer of a survey on disk while it grows, a record a route, so
// that memory does not grow with the network. Each record carries its lengths and a
// checksum: after a crash, records are read up to the last complete one.
type journal struct {
	f         *os.File
	path      string // empty for an unnamed temporary file
	endOffset int64  // byte offset after the last complete record
	count     int
}

const (
	journalMagic = 0x474c5331
	recordHeadB  = 4 * (2 + int(partCount))
	maxRecordB   = 1 << 30 // no record of a route is longer
)

// unfinishedExt ends the name of a survey's journal.
const unfinishedExt = ".unfinished"

var crcTable = crc32.MakeTable(crc32.Castagnoli)

var errDamaged = errors.New("it was damaged while in use")

// newJournal makes an empty journal; path "" makes one without a name.
func newJournal(path string) (*journal, error) {
	if path == "" {
		f, err := os.CreateTemp("", "gradeline-*")
		if err != nil {
			return nil, journalFault(os.TempDir(), err)
		}
		return &journal{f: f}, os.Remove(f.Name())
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, journalFault(path, err)
	}
	if err := lockFile(f); err != nil {
		return nil, errors.Join(journalFault(path, err), f.Close(), os.Remove(path))
	}
	return &journal{f: f, path: path}, nil
}

func journalFault(path string, err error) error {
	return &catalog.Fault{Kind: store.ErrWrite, File: path, What: "the survey's working file cannot be written", Err: withoutPath(err), Fix: "check the folder and the space on its disk"}
}

// withoutPath drops the path from an os error: the message names the file already.
func withoutPath(err error) error {
	if pe, ok := err.(*os.PathError); ok {
		return pe.Err
	}
	return err
}

// append adds a record in one write.
func (j *journal) append(r *record) error {
	size := recordHeadB
	for _, p := range r {
		size += len(p)
	}
	b := make([]byte, recordHeadB, size)
	binary.LittleEndian.PutUint32(b, journalMagic)
	for i, p := range r {
		binary.LittleEndian.PutUint32(b[8+4*i:], uint32(len(p)))
		b = append(b, p...)
	}
	if len(b) > maxRecordB {
		return journalFault(j.path, errors.New("a route's record is longer than 1 GiB"))
	}
	binary.LittleEndian.PutUint32(b[4:], crc32.Checksum(b[8:], crcTable))
	if _, err := j.f.WriteAt(b, j.endOffset); err != nil {
		return journalFault(j.path, err)
	}
	j.endOffset += int64(len(b))
	j.count++
	return nil
}

// recordEnds reads where the parts of the record at an offset begin and end; ok is
// false at the end and where no complete record begins.
func (j *journal) recordEnds(offset, size int64) (ends [partCount + 1]int64, sum uint32, ok bool) {
	var b [recordHeadB]byte
	if _, err := j.f.ReadAt(b[:], offset); err != nil || binary.LittleEndian.Uint32(b[:]) != journalMagic {
		return ends, 0, false
	}
	ends[0] = offset + int64(recordHeadB)
	for i := range partCount {
		ends[i+1] = ends[i] + int64(binary.LittleEndian.Uint32(b[8+4*i:]))
	}
	return ends, binary.LittleEndian.Uint32(b[4:]), ends[partCount] <= size && ends[partCount]-offset <= maxRecordB
}

// offsets yields where each record begins; nothing for no journal.
func (j *journal) offsets() iter.Seq2[int64, error] {
	return func(yield func(int64, error) bool) {
		if j == nil {
			return
		}
		for offset := int64(0); offset < j.endOffset; {
			ends, _, ok := j.recordEnds(offset, j.endOffset)
			if !ok {
				yield(0, journalFault(j.path, errDamaged))
				return
			}
			if !yield(offset, nil) {
				return
			}
			offset = ends[partCount]
		}
	}
}

// readRecord reads one record and checks its sum.
func (j *journal) readRecord(offset int64) (*record, error) {
	ends, sum, ok := j.recordEnds(offset, j.endOffset)
	if !ok {
		return nil, journalFault(j.path, errDamaged)
	}
	b := make([]byte, ends[partCount]-offset)
	if _, err := j.f.ReadAt(b, offset); err != nil {
		return nil, journalFault(j.path, err)
	}
	if crc32.Checksum(b[8:], crcTable) != sum {
		return nil, journalFault(j.path, errors.New("a record's checksum is wrong"))
	}
	var r record
	for i := range r {
		r[i] = b[ends[i]-offset : ends[i+1]-offset]
	}
	return &r, nil
}

// readPart reads one part of a record.
func (j *journal) readPart(offset int64, p part) ([]byte, error) {
	ends, _, ok := j.recordEnds(offset, j.endOffset)
	if !ok {
		return nil, journalFault(j.path, errDamaged)
	}
	b := make([]byte, ends[p+1]-ends[p])
	if _, err := j.f.ReadAt(b, ends[p]); err != nil {
		return nil, journalFault(j.path, err)
	}
	return b, nil
}

// parts yields one part of every record that has it.
func (j *journal) parts(p part) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for offset, err := range j.offsets() {
			var b []byte
			if err == nil {
				b, err = j.readPart(offset, p)
			}
			if err != nil {
				yield(nil, err)
				return
			}
			if len(b) > 0 && !yield(b, nil) {
				return
			}
		}
	}
}

// remove drops the journal and its file.
func (j *journal) remove() {
	if j.path != "" {
		_ = os.Remove(j.path) // the next survey finds and removes a leftover
	}
	_ = j.f.Close()
}

// closeKeepingFile releases the journal so that a later run can continue it.
func (j *journal) closeKeepingFile() { _ = j.f.Close() }

// reopenJournal opens the journal of another run and counts its complete records. It returns nil
// where the file is in use or not a journal.
func reopenJournal(path string) *journal {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil
	}
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() || lockFile(f) != nil {
		_ = f.Close()
		return nil
	}
	j := &journal{f: f, path: path}
	buf := make([]byte, 1<<16)
	for offset := int64(0); ; {
		ends, sum, ok := j.recordEnds(offset, st.Size())
		if !ok {
			break
		}
		crc := crc32.New(crcTable)
		if _, err := io.CopyBuffer(crc, io.NewSectionReader(f, offset+8, ends[partCount]-offset-8), buf); err != nil || crc.Sum32() != sum {
			break
		}
		offset = ends[partCount]
		j.endOffset = offset
		j.count++
	}
	if j.count == 0 {
		_ = f.Close()
		return nil
	}
	return j
}

// journalsBeside lists the journals in the folder of a catalogue.
func journalsBeside(catalogPath string) []string {
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
