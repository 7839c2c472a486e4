package store

import (
	"database/sql/driver"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/compact"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/terrain"
)

// The details of a descent's holds (heat, gears, limits, sources, words) are packed
// into one row of the table advice: the number of its texts, their keys in the table
// texts, the layout's first, then the bytes of package compact. Nothing is computed
// again on reading: an approved page does not change.

// packedAdvice is the details of an entry's holds with the texts to which they refer.
type packedAdvice struct {
	body  []byte
	texts []string
}

var adviceWriters = sync.Pool{New: func() any { return compact.NewWriter(adviceLayout) }}

func packAdvice(holds []catalog.Hold) (packedAdvice, error) {
	w := adviceWriters.Get().(*compact.Writer)
	defer adviceWriters.Put(w)
	body, texts, err := w.Append(nil, reflect.ValueOf(holds))
	if err != nil {
		return packedAdvice{}, &Fault{Kind: terrain.ErrInput, What: "advice with a figure that is not a number", Err: err, Fix: "survey the route again"}
	}
	return packedAdvice{body, slices.Clone(texts)}, nil
}

// writeAdvice writes the details of a descent's holds; inside a change.
func (s *Survey) writeAdvice(a packedAdvice, fid int64) error {
	keys := make([]int64, 0, len(a.texts)+1)
	for _, text := range append([]string{adviceLayout.Text()}, a.texts...) {
		key, err := s.texts.keyOf(s, text)
		if err != nil {
			return err
		}
		keys = append(keys, key)
	}
	b := binary.AppendUvarint(make([]byte, 0, len(a.body)+3*len(keys)), uint64(len(keys)))
	b = append(compact.AppendInts(b, keys), a.body...)
	s.bytes += len(b)
	d := s.c.file.Direct()
	return d.Run("INSERT INTO advice(descent_fid, packed, seal) VALUES (?, ?, ?)", d.Args().Add(fid, b, sealOfAdvice(fid, b)))
}

func sealOfAdvice(fid int64, packed []byte) int64 {
	return gpkg.Seal([]driver.Value{fid, packed}, "")
}

// textKeys are the keys of texts in the file, as this batch knows them.
type textKeys struct {
	key         map[string]int64
	count, last int64 // rows, and the greatest key, when they were read
	isCurrent   bool  // no other writer can have changed them since
}

// keyOf returns the key of a text, which many descents share; inside a change.
func (t *textKeys) keyOf(s *Survey, text string) (int64, error) {
	if !t.isCurrent {
		if err := t.read(s.c.file.Direct()); err != nil {
			return 0, err
		}
	}
	if key := t.key[text]; key != 0 {
		return key, nil
	}
	key := t.last + 1
	d := s.c.file.Direct()
	if err := d.Run("INSERT INTO texts(fid, text, seal) VALUES (?, ?, ?)", d.Args().Add(key, text, sealOfText(key, text))); err != nil {
		return 0, err
	}
	s.bytes += len(text)
	t.key[text], t.last, t.count = key, key, t.count+1
	return key, nil
}

func sealOfText(key int64, text string) int64 { return gpkg.Seal([]driver.Value{key, text}, "") }

// read reads all texts, unless they are unchanged since the last reading.
func (t *textKeys) read(d *gpkg.Direct) error {
	var count, last int64
	err := d.Each("SELECT count(*), max(coalesce(max(fid), 0), coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'texts'), 0)) FROM texts", d.Args(), func(row []driver.Value) error {
		count, _ = row[0].(int64)
		last, _ = row[1].(int64)
		return nil
	})
	if err != nil {
		return err
	}
	t.isCurrent = true
	if t.key != nil && count == t.count && last == t.last {
		return nil
	}
	t.key, t.count, t.last = map[string]int64{}, count, last
	return d.Each("SELECT fid, text, seal FROM texts", d.Args(), func(row []driver.Value) error {
		key, _ := row[0].(int64)
		text := string(gpkg.BytesOf(row[1]))
		if gpkg.CheckOwnSeal(row[2], row[:2], "") == nil { // a damaged one is written again
			t.key[text] = key
		}
		return nil
	})
}

// textOf reads a text by its key.
func (l *loader) textOf(key int64) (string, error) {
	if text, known := l.texts[key]; known {
		return text, nil
	}
	text, found := "", false
	d := l.q.Direct()
	err := d.Each("SELECT fid, text, seal FROM texts WHERE fid = ?", d.Args().Add(key), func(row []driver.Value) error {
		found = true
		text = string(gpkg.BytesOf(row[1]))
		return gpkg.CheckOwnSeal(row[2], row[:2], "")
	})
	if err == nil && !found {
		err = &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("text %d of its advice is missing", key), Fix: "survey its road again, or restore the last copy"}
	}
	if err != nil {
		return "", err
	}
	if l.texts == nil {
		l.texts = map[int64]string{}
	}
	l.texts[key] = text
	return text, nil
}

var errAdvice = &Fault{Kind: terrain.ErrRead, What: "the details of its advice are damaged", Fix: "survey its road again, or restore the last copy"}

// keysOf splits packed advice into the keys of its texts and the rest.
func keysOf(packed []byte) (keys []int64, body []byte, err error) {
	n, used := binary.Uvarint(packed)
	if used <= 0 || n == 0 || n > uint64(len(packed))*64 {
		return nil, nil, errAdvice
	}
	r := compact.NewReader(packed[used:])
	keys = make([]int64, n)
	if r.Ints(keys); r.Err() != nil {
		return nil, nil, errAdvice
	}
	return keys, r.Rest(), nil
}

// details reads the details of an entry's holds into them.
func (l *loader) details(e *resurvey.Stored) error {
	d := l.q.Direct()
	var packed []byte
	err := d.Each("SELECT packed, seal FROM advice WHERE descent_fid = ?", d.Args().Add(e.Key), func(row []driver.Value) error {
		packed = gpkg.BytesOf(row[0])
		return gpkg.CheckOwnSeal(row[1], []driver.Value{e.Key, packed}, "")
	})
	if err != nil {
		return err
	}
	if packed == nil {
		return &Fault{Kind: terrain.ErrRead, What: "the details of its advice are missing", Fix: "survey its road again, or restore the last copy"}
	}
	keys, body, err := keysOf(packed)
	if err != nil {
		return err
	}
	texts := make([]string, len(keys))
	for i, key := range keys {
		if texts[i], err = l.textOf(key); err != nil {
			return err
		}
	}
	schema := l.schemas[keys[0]]
	if schema == nil {
		if schema, err = compact.ParseSchema(texts[0]); err != nil {
			return errAdvice
		}
		if l.schemas == nil {
			l.schemas = map[int64]*compact.Schema{}
		}
		l.schemas[keys[0]] = schema
	}
	got, err := schema.Read(body, adviceLayout, texts[1:])
	if err != nil || got.Len() != len(e.Holds) {
		return errAdvice
	}
	for i := range e.Holds {
		from, to := got.Index(i), reflect.ValueOf(&e.Holds[i]).Elem()
		for _, k := range adviceFields {
			to.Field(k).Set(from.Field(k))
		}
	}
	return nil
}

// surfaceTexts keeps the JSON of lists of surfaces: all holds of a survey have a few.
type surfaceTexts struct {
	lists [][]string
	texts []string
}

// mostSurfaces is the number of lists that are kept.
const mostSurfaces = 16

func (k *surfaceTexts) text(surfaces []string) (string, error) {
	for i, list := range k.lists {
		if slices.Equal(list, surfaces) && (list == nil) == (surfaces == nil) {
			return k.texts[i], nil
		}
	}
	b, err := json.Marshal(surfaces)
	if len(k.lists) >= mostSurfaces {
		k.lists, k.texts = nil, nil
	}
	k.lists, k.texts = append(k.lists, slices.Clone(surfaces)), append(k.texts, string(b))
	return string(b), err
}

// fillLater reads the values of laterColumns.
func (l *loader) fillLater(h *catalog.Hold, values []driver.Value) error {
	h.GearName = string(gpkg.BytesOf(values[0]))
	fillFigures(h, string(gpkg.BytesOf(values[2])))
	text := string(gpkg.BytesOf(values[1]))
	list, isKnown := l.surfaces[text]
	if !isKnown {
		if err := json.Unmarshal([]byte(text), &list); err != nil {
			return gpkg.Unreadable("surfaces_excluded", err)
		}
		if l.surfaces == nil || len(l.surfaces) >= mostSurfaces {
			l.surfaces = map[string][]string{}
		}
		l.surfaces[text] = list
	}
	h.SurfacesOut = slices.Clone(list)
	return nil
}
