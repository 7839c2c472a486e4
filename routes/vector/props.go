package vector

import (
	"bytes"
	"encoding/json"
	"fmt"

	"gradeline/routes"
)

const (
	maxTags       = 1000
	maxStructures = 10_000
)

// properties is the properties member of one feature.
type properties struct {
	tags       map[string]string
	structures []routes.Structure
	notes      []string // unused parts, with the reason
}

func (p *properties) reset() {
	p.tags, p.structures, p.notes = nil, nil, nil
}

func (p *properties) name() string {
	for _, k := range []string{"name", "ref", "route"} {
		if v := p.tags[k]; v != "" {
			return v
		}
	}
	return ""
}

// result returns the properties read; structures by station need a single line.
func (p *properties) result(manyLines bool) (map[string]string, []routes.Structure, []string) {
	if manyLines && len(p.structures) > 0 {
		p.notes = append(p.notes, "structures not used: a line of several parts has no stations; make each part a feature")
		p.structures = nil
	}
	if p.tags == nil {
		p.tags = map[string]string{}
	}
	return p.tags, p.structures, p.notes
}

// read takes a properties object: texts, numbers and booleans become tags as
// they are written, null and nested values do not.
func (p *properties) read(s *scanner, depth int) error {
	p.reset()
	p.tags = map[string]string{}
	return s.members(depth, func(key string) error {
		c := s.peek()
		if key == "structures" && c != 'n' {
			b, err := s.raw(depth + 1)
			if err != nil {
				return err
			}
			p.readStructures(b)
			return nil
		}
		switch c {
		case '"':
			b, err := s.text()
			if err != nil {
				return err
			}
			return p.set(s, key, cleanBytes(b))
		case '{', '[', 'n':
			return s.skip(depth + 1)
		}
		s.hold = s.pos
		err := s.skip(depth + 1)
		v := string(s.buf[s.hold:s.pos])
		s.hold = -1
		if err != nil {
			return err
		}
		return p.set(s, key, v)
	})
}

func (p *properties) set(s *scanner, key, value string) error {
	if len(p.tags) >= maxTags {
		return s.fault(fmt.Sprintf("more than %d properties in one feature", maxTags), "drop those that do not describe the road")
	}
	p.tags[cleanText(key)] = value
	return nil
}

// readStructures takes [{"kind": "bridge"|"tunnel", "from_m": …, "to_m": …}],
// as JSON or as JSON within a text, as table formats keep it.
func (p *properties) readStructures(b []byte) {
	p.structures = nil
	note := func(format string, a ...any) { p.notes = append(p.notes, fmt.Sprintf(format, a...)) }
	if b = bytes.TrimSpace(b); len(b) > 0 && b[0] == '"' {
		var text string
		if err := json.Unmarshal(b, &text); err != nil || text == "" {
			return
		}
		b = []byte(text)
	}
	var list []json.RawMessage
	if err := json.Unmarshal(b, &list); err != nil {
		note(`structures not used: they must be a list of {"kind", "from_m", "to_m"}`)
		return
	}
	if len(list) > maxStructures {
		note("structures not used: more than %d on one line", maxStructures)
		return
	}
	for i, raw := range list {
		st, why := structureFromJSON(raw)
		if why != "" {
			note("structure %d not used: %s", i+1, why)
			continue
		}
		p.structures = append(p.structures, st)
	}
}

// structureFromJSON reads one element of a list of structures, or says why it is not valid.
func structureFromJSON(raw []byte) (st routes.Structure, why string) {
	var v struct {
		Kind string   `json:"kind"`
		From *float64 `json:"from_m"`
		To   *float64 `json:"to_m"`
	}
	err := json.Unmarshal(raw, &v)
	switch {
	case v.Kind == "bridge":
		st.Kind = routes.Bridge
	case v.Kind == "tunnel":
		st.Kind = routes.Tunnel
	case err == nil:
		return st, fmt.Sprintf("kind %q is neither bridge nor tunnel", cleanText(v.Kind))
	}
	switch {
	case err != nil || v.From == nil || v.To == nil:
		return st, `it needs "kind", "from_m" and "to_m", stations in metres`
	case *v.From < 0 || !(*v.From < *v.To):
		return st, fmt.Sprintf("from_m %g and to_m %g must be 0 or more, and ascending", *v.From, *v.To)
	}
	st.FromM, st.ToM, st.Flagged = *v.From, *v.To, true
	return st, ""
}
