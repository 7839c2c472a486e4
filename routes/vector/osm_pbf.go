package vector

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"

	"golang.org/x/sync/semaphore"
	"google.golang.org/protobuf/encoding/protowire"

	"gradeline/routes"
	"gradeline/terrain"
)

// The binary form is read here and not by paulmach/osm/osmpbf: that decodes in
// goroutines of its own. There a text number beyond the block's table, or a node
// outside a dense group, is a panic that no caller can stop. A file truncated at the
// header of a block looks complete. Numbers of fields and limits are those of
// fileformat.proto and osmformat.proto (OpenStreetMap wiki, PBF Format, from memory;
// checked against osmium, OGR and osmpbf on the same files).
const (
	maxHeadB = 64 << 10
	maxBlobB = 32 << 20
)

// pbfReader decodes a file's blocks one after another.
type pbfReader struct {
	r      *osmReader
	offset int64 // of the block being decoded
	data   []byte
	block  int
}

func (r *osmReader) scanPBF(ctx context.Context, f *os.File, want wanted) error {
	st, err := f.Stat()
	if err != nil {
		return &routes.Fault{Kind: terrain.ErrRead, File: r.path, Err: err}
	}
	ctx, cancel := context.WithCancel(ctx)
	ahead := &pbfAhead{r: r, f: f, fileEnd: st.Size(), want: want, room: semaphore.NewWeighted(aheadB), out: make(chan *aheadBlock, aheadBlocks)}
	var reading sync.WaitGroup
	defer reading.Wait()
	defer cancel()
	reading.Go(func() { ahead.run(ctx) })
	p := &pbfReader{r: r}
	for b := range ahead.out {
		<-b.ready
		err := ctx.Err()
		if err != nil {
			return err
		}
		p.offset, p.data, err = b.offset, b.data, b.err
		if err == nil {
			err = p.decode(b.kind, want)
		}
		if err != nil {
			var fault *routes.Fault
			if errors.As(err, &fault) {
				return err
			}
			return r.readFault(fmt.Sprintf("block %d, at byte %d", p.block+1, p.offset), "it cannot be read", err)
		}
		ahead.release(b)
		if r.opts.OnProgress != nil {
			r.opts.OnProgress(int64(want)*ahead.fileEnd+p.offset, 2*ahead.fileEnd)
		}
		p.block++
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if p.block == 0 {
		return &routes.Fault{Kind: terrain.ErrInput, File: r.path, What: "is empty"}
	}
	return nil
}

func (p *pbfReader) decode(kind string, want wanted) error {
	switch {
	case p.block == 0 && kind != "OSMHeader":
		return errors.New("it does not begin with an OSMHeader block")
	case kind == "OSMHeader" && want == wantWays:
		return p.header()
	case kind == "OSMData":
		b := pbfBlock{r: p.r, want: want}
		err := b.read(p.data)
		if want == wantWays {
			for len(p.r.hasNodes) <= p.block {
				p.r.hasNodes = append(p.r.hasNodes, false)
			}
			p.r.hasNodes[p.block] = b.nodes
		}
		return err
	}
	return nil // blocks of other kinds are skipped
}

func (p *pbfReader) header() error {
	return fields(p.data, func(num protowire.Number, v uint64, b []byte) error {
		switch num {
		case 4:
			switch s := string(b); s {
			case "OsmSchema-V0.6", "DenseNodes":
			default:
				return &routes.Fault{Kind: terrain.ErrInput, File: p.r.path, What: fmt.Sprintf("it needs a reader of %q", cleanText(s)),
					Fix: "use an extract of current data, or write it again with osmium cat"}
			}
		case 16:
			p.r.info.Generator = cleanText(string(b))
		case 32:
			if s := int64(v); s > 0 && s < 1<<33 {
				p.r.info.AsOf = time.Unix(s, 0).UTC().Format(time.RFC3339)
			}
		}
		return nil
	})
}

// fields calls do for each field of a message, with v for numbers and b for texts, packed lists and
// messages.
func fields(msg []byte, do func(num protowire.Number, v uint64, b []byte) error) error {
	for len(msg) > 0 {
		num, typ, n := protowire.ConsumeTag(msg)
		if n < 0 {
			return protowire.ParseError(n)
		}
		msg = msg[n:]
		var v uint64
		var b []byte
		switch typ {
		case protowire.VarintType:
			v, n = protowire.ConsumeVarint(msg)
		case protowire.BytesType:
			b, n = protowire.ConsumeBytes(msg)
		default:
			n = protowire.ConsumeFieldValue(num, typ, msg)
		}
		if n < 0 {
			return protowire.ParseError(n)
		}
		msg = msg[n:]
		if err := do(num, v, b); err != nil {
			return err
		}
	}
	return nil
}

// numbers reads a packed list of varints.
func numbers(b []byte, do func(v uint64) error) error {
	for len(b) > 0 {
		v, n := protowire.ConsumeVarint(b)
		if n < 0 {
			return protowire.ParseError(n)
		}
		b = b[n:]
		if err := do(v); err != nil {
			return err
		}
	}
	return nil
}
