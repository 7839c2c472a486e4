package vehicle

import (
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"gradeline/catalog"
)

// reporter collects faults with the line of their key.
type reporter struct {
	file   string
	lines  map[string]int // "class[0].truck.axle[1].load_kg" → line, counted from 1
	class  int
	id     string
	faults Faults
	rows   []int
	told   []string // keys with a fault: its consequences aren't reported again
	// written are the keys that were written in place of those that the checks name, by
	// the full path of the latter.
	written map[string]writtenKey
}

// writtenKey is the form of a figure in the file.
type writtenKey struct {
	path string                  // in place of the one that the checks name
	text string                  // as written; empty for a number
	show func(si float64) string // a figure of the same kind, in the unit that was written
}

// writes records that a figure was written with another key, or in another unit.
func (r *reporter) writes(path string, w writtenKey) {
	if r.written == nil {
		r.written = map[string]writtenKey{}
	}
	r.written[r.full(path)] = w
}

func (r *reporter) full(path string) string { return fmt.Sprintf("class[%d].%s", r.class, path) }

// show writes a figure in the unit of its key in the file.
func (r *reporter) show(path string, si float64, unit string) string {
	if w, ok := r.written[r.full(path)]; ok && w.show != nil {
		return w.show(si)
	}
	return showSI(path, si, unit)
}

// showSI writes a figure in SI.
func showSI(_ string, si float64, unit string) string {
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", si, unit))
}

// fault reports a fault of the current class, by the key in the file. An absent key
// is placed at the nearest table above it.
func (r *reporter) fault(path, what, fix string) {
	full := r.full(path)
	w, isWritten := r.written[full]
	if isWritten && w.path != "" {
		path, full = w.path, r.full(w.path)
	}
	for _, t := range r.told {
		if full == t || strings.HasPrefix(full, t+".") {
			return
		}
	}
	r.told = append(r.told, full)
	label := path
	if w.text != "" {
		label += fmt.Sprintf(" = %q", w.text)
	}
	if r.id != "" {
		label = strings.TrimSuffix(r.id+" "+label, " ")
	}
	r.faultAt(r.line(full), label+": "+what, fix)
}

// tellNoMore keeps back faults of a key that follow from one that was reported.
func (r *reporter) tellNoMore(path string) { r.told = append(r.told, r.full(path)) }

func (r *reporter) line(path string) int {
	for path != "" {
		if n, ok := r.lines[path]; ok {
			return n
		}
		if i := strings.LastIndexByte(path, '.'); i >= 0 {
			path = path[:i]
		} else {
			break
		}
	}
	return 0
}

func (r *reporter) faultAt(line int, what, fix string) {
	if len(r.faults) >= mostFaults {
		return
	}
	f := &catalog.Fault{Kind: catalog.ErrClass, File: r.file, What: strings.ReplaceAll(what, "\n", " "), Fix: fix}
	if line > 0 {
		f.Feature = fmt.Sprintf("line %d", line)
	}
	r.faults = append(r.faults, f)
	r.rows = append(r.rows, line)
}

// sort puts the faults in the order of their lines.
func (r *reporter) sort() {
	order := make([]int, len(r.faults))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return r.rows[a] - r.rows[b] })
	sorted := make(Faults, len(order))
	for i, k := range order {
		sorted[i] = r.faults[k]
	}
	r.faults = sorted
}

// linesByKey maps each key of a TOML text to its line. For a text that does not parse it has the
// keys before the error.
func linesByKey(raw []byte) map[string]int {
	lines := map[string]int{}
	counts := map[string]int{} // number of array tables of a name so far
	prefix := ""
	var breaks []uint32 // ends of the lines
	for i, b := range raw {
		if b == '\n' {
			breaks = append(breaks, uint32(i))
		}
	}
	var p unstable.Parser
	p.Reset(raw)
	for p.NextExpression() {
		e := p.Expression()
		var parts []string
		row := 0
		for it := e.Key(); it.Next(); {
			parts = append(parts, string(it.Node().Data))
			if row == 0 {
				n, _ := slices.BinarySearch(breaks, it.Node().Raw.Offset)
				row = n + 1
			}
		}
		if len(parts) == 0 {
			continue
		}
		switch e.Kind {
		case unstable.ArrayTable:
			path := indexed(parts, counts, true)
			counts[path]++
			prefix = fmt.Sprintf("%s[%d]", path, counts[path]-1)
			lines[prefix] = row
		case unstable.Table:
			prefix = indexed(parts, counts, false)
			lines[prefix] = row
		case unstable.KeyValue:
			path := strings.Join(parts, ".")
			if prefix != "" {
				path = prefix + "." + path
			}
			lines[path] = row
		}
	}
	return lines
}

// indexed joins a table's name with the index of the latest array table at each
// step; the last step of an array table's own header stays bare.
func indexed(parts []string, counts map[string]int, array bool) string {
	path := ""
	for i, part := range parts {
		if path != "" {
			path += "."
		}
		path += part
		if n := counts[path]; n > 0 && !(array && i == len(parts)-1) {
			path = fmt.Sprintf("%s[%d]", path, n-1)
		}
	}
	return path
}

// keyText writes a dotted key.
func keyText(key []string) string { return strings.Join(key, ".") }
