package vector

import (
	"errors"
	"fmt"
	"time"

	"google.golang.org/protobuf/encoding/protowire"
)

// pbfBlock is one block of data: texts, and groups of nodes, ways and relations
// that refer to the texts by number.
type pbfBlock struct {
	r       *osmReader
	want    wanted
	texts   [][]byte
	highway int // number of the text "highway"; -1 if no way here is a road
	granE9  int64
	latE9   int64
	lonE9   int64
	dateMS  int64
	nodes   bool // the block holds nodes
	refs    []int64
	keys    []uint64
	vals    []uint64
	roles   []uint64
	kinds   []uint64
}

func (b *pbfBlock) read(data []byte) error {
	b.granE9, b.dateMS, b.highway = 100, 1000, -1
	var groups [][]byte
	err := fields(data, func(num protowire.Number, v uint64, body []byte) error {
		switch num {
		case 1:
			return fields(body, func(num protowire.Number, _ uint64, text []byte) error {
				if num == 1 {
					if string(text) == "highway" {
						b.highway = len(b.texts)
					}
					b.texts = append(b.texts, text)
				}
				return nil
			})
		case 2:
			groups = append(groups, body)
		case 17:
			b.granE9 = int64(int32(v))
		case 18:
			b.dateMS = int64(int32(v))
		case 19:
			b.latE9 = int64(v)
		case 20:
			b.lonE9 = int64(v)
		}
		return nil
	})
	for _, g := range groups {
		if err == nil {
			err = b.group(g)
		}
	}
	return err
}

func (b *pbfBlock) group(group []byte) error {
	return fields(group, func(num protowire.Number, _ uint64, body []byte) error {
		switch num {
		case 1, 2:
			b.nodes = true
			switch {
			case b.want != wantNodes:
				return nil
			case num == 1:
				return b.node(body)
			}
			return b.dense(body)
		case 3:
			if b.want == wantWays && b.highway >= 0 {
				return b.way(body)
			}
		case 4:
			if b.want == wantWays {
				return b.relation(body)
			}
		}
		return nil
	})
}

// set stores a node from its coordinates in steps of the block's granularity.
func (b *pbfBlock) set(id, lon, lat int64) {
	const e9 = 1e-9
	isKnown, isRepeated, isOut := b.r.nodes.set(id, e9*float64(b.lonE9+b.granE9*lon), e9*float64(b.latE9+b.granE9*lat))
	if isKnown {
		b.r.countNode(id, isRepeated, isOut)
	}
}

func (r *osmReader) countNode(id int64, isRepeated, isOut bool) {
	if isRepeated {
		r.counts.add(repeatedNodes, id)
	}
	if isOut {
		r.counts.add(nodesOut, id)
	}
}

func (b *pbfBlock) node(body []byte) error {
	var id, lat, lon int64
	err := fields(body, func(num protowire.Number, v uint64, _ []byte) error {
		switch num {
		case 1:
			id = protowire.DecodeZigZag(v)
		case 8:
			lat = protowire.DecodeZigZag(v)
		case 9:
			lon = protowire.DecodeZigZag(v)
		}
		return nil
	})
	if err == nil {
		b.set(id, lon, lat)
	}
	return err
}

// dense reads nodes as three lists of differences.
func (b *pbfBlock) dense(body []byte) error {
	var ids, lats, lons []byte
	err := fields(body, func(num protowire.Number, _ uint64, list []byte) error {
		switch num {
		case 1:
			ids = list
		case 8:
			lats = list
		case 9:
			lons = list
		}
		return nil
	})
	if err != nil {
		return err
	}
	var id, lat, lon int64
	next := func(list *[]byte, sum *int64) error {
		v, n := protowire.ConsumeVarint(*list)
		if n < 0 {
			return errors.New("a group of nodes whose lists differ in length")
		}
		*list = (*list)[n:]
		*sum += protowire.DecodeZigZag(v)
		return nil
	}
	for len(ids) > 0 {
		if err := errors.Join(next(&ids, &id), next(&lats, &lat), next(&lons, &lon)); err != nil {
			return err
		}
		b.set(id, lon, lat)
	}
	return nil
}

func (b *pbfBlock) text(i uint64) ([]byte, error) {
	if i >= uint64(len(b.texts)) {
		return nil, fmt.Errorf("text %d of a block that has %d", i, len(b.texts))
	}
	return b.texts[i], nil
}

// tags reads the tags that are kept; of a relation (all set) every tag.
func (b *pbfBlock) tags(all bool) (map[string]string, error) {
	if len(b.keys) != len(b.vals) {
		return nil, errors.New("tags with more keys than values, or fewer")
	}
	out := map[string]string{}
	for i, k := range b.keys {
		key, err := b.text(k)
		if err != nil {
			return nil, err
		}
		value, err := b.text(b.vals[i])
		if err != nil {
			return nil, err
		}
		if (all || keptTags[string(key)]) && len(out) < maxTags {
			out[cleanBytes(key)] = cleanBytes(value)
		}
	}
	return out, nil
}

// element reads the common fields of ways and relations; more gets the other fields.
func (b *pbfBlock) element(body []byte, more func(num protowire.Number, list []byte) error) (id int64, at time.Time, err error) {
	b.keys, b.vals = b.keys[:0], b.vals[:0]
	collect := func(to *[]uint64, list []byte) error {
		return numbers(list, func(v uint64) error { *to = append(*to, v); return nil })
	}
	err = fields(body, func(num protowire.Number, v uint64, list []byte) error {
		switch num {
		case 1:
			id = int64(v)
		case 2:
			return collect(&b.keys, list)
		case 3:
			return collect(&b.vals, list)
		case 4:
			return fields(list, func(num protowire.Number, v uint64, _ []byte) error {
				if num == 2 {
					if ms := int64(v) * b.dateMS; ms > 0 && ms < 1<<43 {
						at = time.UnixMilli(ms).UTC()
					}
				}
				return nil
			})
		default:
			return more(num, list)
		}
		return nil
	})
	return id, at, err
}

func (b *pbfBlock) way(body []byte) error {
	var refs []byte
	id, at, err := b.element(body, func(num protowire.Number, list []byte) error {
		if num == 8 {
			refs = list
		}
		return nil
	})
	if err != nil {
		return err
	}
	isRoad := false
	for _, k := range b.keys {
		isRoad = isRoad || k == uint64(b.highway)
	}
	if !isRoad {
		return nil
	}
	tags, err := b.tags(false)
	if err != nil {
		return err
	}
	b.refs = b.refs[:0]
	var ref int64
	err = numbers(refs, func(v uint64) error {
		ref += protowire.DecodeZigZag(v)
		b.refs = append(b.refs, ref)
		return nil
	})
	if err != nil {
		return err
	}
	return b.r.addWay(id, tags, b.refs, at)
}

func (b *pbfBlock) relation(body []byte) error {
	b.roles, b.refs, b.kinds = b.roles[:0], b.refs[:0], b.kinds[:0]
	var ref int64
	id, _, err := b.element(body, func(num protowire.Number, list []byte) error {
		return numbers(list, func(v uint64) error {
			switch num {
			case 8:
				b.roles = append(b.roles, v)
			case 9:
				ref += protowire.DecodeZigZag(v)
				b.refs = append(b.refs, ref)
			case 10:
				b.kinds = append(b.kinds, v)
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	tags, err := b.tags(true)
	if err != nil {
		return err
	}
	if len(b.roles) != len(b.refs) || len(b.kinds) != len(b.refs) {
		return errors.New("a relation whose lists of members differ in length")
	}
	members := make([]osmMember, len(b.refs))
	for i := range members {
		role, err := b.text(b.roles[i])
		if err != nil {
			return err
		}
		members[i] = osmMember{id: b.refs[i], role: string(role), kind: '?'}
		if k := b.kinds[i]; k < 3 {
			members[i].kind = "nwr"[k]
		}
	}
	b.r.addRelation(id, tags, members)
	return nil
}
