package vector

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"gradeline/routes"
)

// Members come in any order (RFC 8259 section 4), so features may stand before the type:
// features in an object that is no collection are refused, an empty list of them is foreign.
func TestFeaturesBeforeTheType(t *testing.T) {
	if _, _, err := readText(t, `{"features":[`+feat(`{}`, line)+`],"type":"Feature","geometry":`+line+`}`); err == nil || !strings.Contains(err.Error(), `features in an object of type "Feature"`) {
		t.Errorf("features in a Feature: %v", err)
	}
	if fs, _, err := readText(t, `{"features":[],"type":"Feature","geometry":`+line+`}`); err != nil || len(fs) != 1 {
		t.Errorf("an empty list in a Feature: %d lines, %v", len(fs), err)
	}
}

// timedPBF is an extract without a date of its own, one road with a time: field 2 of the
// way's Info counts units of date_granularity ms, 1,000 where the block says nothing
// (fileformat.proto and osmformat.proto of OpenStreetMap's PBF).
func timedPBF(info message, granularityMS uint64) []byte {
	m := &madeOSM{}
	out := m.block("OSMHeader", message{}.bytes(4, []byte("OsmSchema-V0.6")).bytes(4, []byte("DenseNodes")))
	var table message
	for _, s := range []string{"", "highway", "primary"} {
		table = table.bytes(1, []byte(s))
	}
	dense := message{}.bytes(1, differences([]int64{1, 2})).bytes(8, differences([]int64{46e7, 461e6})).bytes(9, differences([]int64{8e7, 81e6}))
	way := message{}.num(1, 10).bytes(2, packed([]uint64{1})).bytes(3, packed([]uint64{2})).bytes(4, info).bytes(8, differences([]int64{1, 2}))
	block := message{}.bytes(1, table).bytes(2, message{}.bytes(2, dense)).bytes(2, message{}.bytes(3, way))
	if granularityMS > 0 {
		block = block.num(18, granularityMS)
	}
	return append(out, m.block("OSMData", block)...)
}

// The date of an extract without one is that of its newest road; a moment beyond the year
// 2248 (2^43 ms) is no date.
func TestDateOfAnExtractWithoutOne(t *testing.T) {
	const may2026 = 1777593600 // seconds
	last := uint64(1<<43/1000) - 1
	for _, k := range []struct {
		name          string
		info          message
		granularityMS uint64
		want          string
	}{
		{"a date", message{}.num(1, 7).num(2, may2026).num(3, last-5), 0, "2026-05-01T00:00:00Z"},
		{"in milliseconds", message{}.num(2, may2026*1000), 1, "2026-05-01T00:00:00Z"},
		{"the last second", message{}.num(2, last), 0, time.Unix(int64(last), 0).UTC().Format(time.RFC3339)},
		{"beyond it", message{}.num(2, last+2), 0, ""},
		{"a version only", message{}.num(1, 7), 0, ""},
		{"none", nil, 0, ""},
	} {
		got := readExtract(inFile(t, "a.osm.pbf", timedPBF(k.info, k.granularityMS)), Options{})
		if got.err != nil || len(got.features) != 1 || got.info.AsOf != k.want {
			t.Errorf("%s: %d lines as of %q, want %q; %v", k.name, len(got.features), got.info.AsOf, k.want, got.err)
		}
	}
}

// Progress of an XML extract is told every 10,000 elements, and nowhere else.
func TestProgressOfAnXMLExtract(t *testing.T) {
	for nodes, times := range map[int]int{9_998: 0, 9_999: 1, 19_999: 2} { // and one way
		m := &madeOSM{ways: []madeWay{{10, []int64{1, 2}, []string{"highway", "primary"}}}}
		for i := range nodes {
			m.nodes = append(m.nodes, madeNode{int64(i + 1), 8 + float64(i)*1e-6, 46})
		}
		said := map[int64]int{}
		got := readExtract(inFile(t, "a.osm", m.xml()), Options{OnProgress: func(done, _ int64) { said[done]++ }})
		if got.err != nil || len(got.features) != 1 {
			t.Fatalf("%d nodes: %+v", nodes, got)
		}
		calls := 0
		for _, n := range said {
			calls += n
		}
		if calls != 2*times { // the file is gone through twice
			t.Errorf("%d nodes and a way: told %d times, want %d", nodes, calls, 2*times)
		}
	}
}

// A piece of a file that a message quotes has 40 characters at most; a GPX text that is
// longer than 4 KiB is not kept.
func TestLongTextsOfRecordings(t *testing.T) {
	forty := strings.Repeat("é", 40)
	if got := short(forty); got != forty {
		t.Errorf("40 characters became %q", got)
	}
	if got := short(forty + "é"); got != forty+"…" {
		t.Errorf("41 characters became %q", got)
	}
	for length, want := range map[int]string{4096: strings.Repeat("n", 4096), 4097: "drive.gpx"} {
		text := strings.Replace(gpxText, "Morning &amp; drive", strings.Repeat("n", length), 1)
		rec, err := ReadRecording("drive.gpx", strings.NewReader(text))
		if err != nil || rec.Name != want {
			t.Errorf("a name of %d bytes: %d bytes, %v", length, len(rec.Name), err)
		}
	}
}

// The window moves along over what was read: texts beyond a megabyte in all come through a
// window of its first size.
func TestTheWindowMovesAlong(t *testing.T) {
	one := []byte(feat(`{"name":"A"}`, line) + "\n")
	const lines = 20_000
	rd := &reader{scanner: newScanner(context.Background(), "-", io.LimitReader(&repeated{one, 0}, int64(len(one)*lines)))}
	rd.out = emitter{file: "-", fn: func(routes.Feature) error { return nil }}
	if err := rd.texts(); err != nil || rd.out.lines != lines || len(rd.buf) != bufferBytes+slack {
		t.Errorf("%d lines, window of %d bytes, %v", rd.out.lines, len(rd.buf), err)
	}
	if rd.scanner.lines+bytes.Count(rd.buf[:rd.pos], []byte("\n")) != lines {
		t.Error(fmt.Sprint("line ends: ", rd.scanner.lines))
	}
}
