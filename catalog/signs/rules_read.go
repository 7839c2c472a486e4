package signs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"gradeline/catalog"
	"gradeline/data"
	"gradeline/terrain"
)

// Fault is the place-carrying error of this module; see terrain.Fault.
type Fault = catalog.Fault

// maxRuleBytes caps what is read of a rule set before anything is allocated from it.
const maxRuleBytes = 1 << 20

// RuleSets returns the embedded rule sets, by id.
func RuleSets() ([]RuleSet, error) {
	names, err := fs.Glob(data.Files, "signs/*.toml")
	if err != nil {
		return nil, err
	}
	sort.Strings(names)
	var sets []RuleSet
	for _, name := range names {
		b, err := data.Files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		rs, err := ParseRuleSet(path.Base(name), bytes.NewReader(b))
		if err != nil {
			return nil, err
		}
		sets = append(sets, rs)
	}
	return sets, nil
}

// Template returns an embedded rule set's own file, to start one's own edition from.
// Error: catalog.ErrNotFound, naming the ids that exist.
func Template(id string) ([]byte, error) {
	if _, err := FindRuleSet(id); err != nil {
		return nil, err
	}
	return data.Files.ReadFile("signs/" + id + ".toml")
}

// FindRuleSet returns the embedded rule set with that id.
// Error: catalog.ErrNotFound, naming the ids that exist.
func FindRuleSet(id string) (RuleSet, error) {
	sets, err := RuleSets()
	if err != nil {
		return RuleSet{}, err
	}
	var ids []string
	for _, rs := range sets {
		if rs.ID == id {
			return rs, nil
		}
		ids = append(ids, rs.ID)
	}
	return RuleSet{}, &Fault{Kind: catalog.ErrNotFound, What: fmt.Sprintf("no rule set is called %q", id),
		Fix: "use one of " + strings.Join(ids, ", ") + ", or a file of your own"}
}

// ParseRuleSet reads a rule set in TOML. Keys that it does not know are
// refused. The error joins every fault found, each with its line and what to do;
// errors.Is finds terrain.ErrInput, or terrain.ErrRead where r fails.
func ParseRuleSet(name string, r io.Reader) (RuleSet, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxRuleBytes+1))
	if err != nil {
		return RuleSet{}, &Fault{Kind: terrain.ErrRead, File: name, Err: err, Fix: "check the file"}
	}
	if len(b) > maxRuleBytes {
		return RuleSet{}, &Fault{Kind: terrain.ErrInput, File: name, What: "more than 1 MB, which is too large for a rule set",
			Fix: "give a rule set file"}
	}
	var raw rawSet
	dec := toml.NewDecoder(bytes.NewReader(b)).DisallowUnknownFields()
	if err := dec.Decode(&raw); err != nil {
		return RuleSet{}, tomlFaults(name, err)
	}
	c := &checker{file: name, lines: indexLines(b)}
	rs := c.ruleSet(&raw)
	if len(c.faults) > 0 {
		return RuleSet{}, errors.Join(c.faults...)
	}
	return rs, nil
}

// tomlFaults turns the TOML reader's errors into ours, each with its line.
func tomlFaults(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var all []error
		for i := range strict.Errors {
			e := &strict.Errors[i]
			row, _ := e.Position()
			all = append(all, &Fault{Kind: terrain.ErrInput, File: name, Feature: fmt.Sprintf("line %d", row),
				What: fmt.Sprintf("unknown key %q", strings.Join(e.Key(), ".")),
				Fix:  "remove it, or check its spelling in an embedded rule set"})
		}
		return errors.Join(all...)
	}
	f := &Fault{Kind: terrain.ErrInput, File: name, What: "not readable as TOML: " + oneLine(err.Error()), Fix: "correct the line"}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		row, _ := de.Position()
		f.Feature = fmt.Sprintf("line %d", row)
	}
	return f
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// indexLines maps "warrant[1].row[0].grade_from" to the line it stands on, and
// "warrant[1]" to the line of its header.
func indexLines(b []byte) map[string]int {
	at := map[string]int{}
	count := map[string]int{} // of array tables, by the parent's indexed path
	table := ""
	for i, line := range strings.Split(string(b), "\n") {
		s := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(s, "[["):
			name, _, _ := strings.Cut(s[2:], "]]")
			parent, leaf := "", strings.TrimSpace(name)
			if k := strings.LastIndex(leaf, "."); k >= 0 {
				head := leaf[:k]
				leaf = leaf[k+1:]
				if n := count[head]; n > 0 {
					parent = fmt.Sprintf("%s[%d].", head, n-1)
				} else {
					parent = head + "."
				}
			}
			key := parent + leaf
			table = fmt.Sprintf("%s[%d]", key, count[key])
			count[key]++
			at[table] = i + 1
		case strings.HasPrefix(s, "["):
			name, _, _ := strings.Cut(s[1:], "]")
			table = strings.TrimSpace(name)
			at[table] = i + 1
		default:
			key, _, ok := strings.Cut(s, "=")
			if !ok || strings.HasPrefix(s, "#") {
				continue
			}
			key = strings.Trim(strings.TrimSpace(key), `"'`)
			if table != "" {
				key = table + "." + key
			}
			if _, seen := at[key]; !seen {
				at[key] = i + 1
			}
		}
	}
	return at
}
