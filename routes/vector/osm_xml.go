package vector

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/paulmach/osm"
	"github.com/paulmach/osm/osmxml"
)

// maxElementB is the longest element of the XML form: a way of 2,000 nodes or a
// relation of 32,000 members is far shorter.
const maxElementB = 16 << 20

// elementLimit ends the reading of an element that would fill the memory.
type elementLimit struct {
	r     io.Reader
	total int64
	since int64 // bytes since the last element
}

var errElement = errors.New("an element of more than 16 MiB")

func (l *elementLimit) Read(b []byte) (int, error) {
	if l.since > maxElementB {
		return 0, errElement
	}
	n, err := l.r.Read(b)
	l.since += int64(n)
	l.total += int64(n)
	return n, err
}

func (r *osmReader) scanXML(ctx context.Context, in io.Reader, want wanted) error {
	limit := &elementLimit{r: in}
	s := osmxml.New(ctx, limit)
	defer s.Close()
	n := 0
	for s.Scan() {
		limit.since = 0
		if err := r.xmlObject(s.Object(), want); err != nil {
			return err
		}
		if n++; r.opts.OnProgress != nil && n%10_000 == 0 {
			r.opts.OnProgress(limit.total, 0)
		}
	}
	err := s.Err()
	if err == nil {
		return ctx.Err()
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	where := fmt.Sprintf("element %d, at byte %d", n+1, limit.total)
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		where = fmt.Sprintf("line %d", syntax.Line)
	}
	return r.readFault(where, "it cannot be read", err)
}

func xmlMembers(list osm.Members) []osmMember {
	out := make([]osmMember, len(list))
	for i, m := range list {
		out[i] = osmMember{kind: '?', id: m.Ref, role: m.Role}
		switch m.Type {
		case osm.TypeNode:
			out[i].kind = 'n'
		case osm.TypeWay:
			out[i].kind = 'w'
		case osm.TypeRelation:
			out[i].kind = 'r'
		}
	}
	return out
}

func (r *osmReader) xmlObject(o osm.Object, want wanted) error {
	switch o := o.(type) {
	case *osm.Node:
		if want == wantNodes {
			if isKnown, isRepeated, isOut := r.nodes.set(int64(o.ID), o.Lon, o.Lat); isKnown {
				r.countNode(int64(o.ID), isRepeated, isOut)
			}
		}
	case *osm.Way:
		if want != wantWays {
			return nil
		}
		tags := map[string]string{}
		for _, t := range o.Tags {
			if keptTags[t.Key] {
				tags[cleanText(t.Key)] = cleanText(t.Value)
			}
		}
		refs := make([]int64, len(o.Nodes))
		for i, n := range o.Nodes {
			refs[i] = int64(n.ID)
		}
		return r.addWay(int64(o.ID), tags, refs, o.Timestamp)
	case *osm.Relation:
		if want != wantWays || !strings.HasPrefix(o.Tags.Find("type"), "restriction") {
			return nil
		}
		r.addRelation(int64(o.ID), o.TagMap(), xmlMembers(o.Members))
	}
	return nil
}
