package vector

import (
	"bytes"
	"compress/zlib"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

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

// pbfReader reads a file's blocks one after another.
type pbfReader struct {
	r       *osmReader
	f       *os.File
	offset  int64 // of the block being read
	buf     []byte
	data    []byte
	zr      io.ReadCloser
	block   int
	fileEnd int64
}

func (r *osmReader) scanPBF(ctx context.Context, f *os.File, want wanted) error {
	st, err := f.Stat()
	if err != nil {
		return &routes.Fault{Kind: terrain.ErrRead, File: r.path, Err: err}
	}
	p := &pbfReader{r: r, f: f, fileEnd: st.Size()}
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		kind, err := p.next(want)
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = p.decode(kind, want)
		}
		if err != nil {
			var fault *routes.Fault
			if errors.As(err, &fault) {
				return err
			}
			return r.readFault(fmt.Sprintf("block %d, at byte %d", p.block+1, p.offset), "it cannot be read", err)
		}
		if r.opts.OnProgress != nil {
			r.opts.OnProgress(int64(want)*p.fileEnd+p.offset, 2*p.fileEnd)
		}
		p.block++
	}
	if p.block == 0 {
		return &routes.Fault{Kind: terrain.ErrInput, File: r.path, What: "is empty"}
	}
	return nil
}

// next reads a block into data; io.EOF only at the end of the file. In the second pass blocks
// without nodes are skipped and have no data.
func (p *pbfReader) next(want wanted) (kind string, err error) {
	p.offset, err = p.f.Seek(0, io.SeekCurrent)
	if err != nil {
		return "", err
	}
	var size [4]byte
	if n, err := io.ReadFull(p.f, size[:]); n == 0 && errors.Is(err, io.EOF) {
		return "", io.EOF
	} else if err != nil {
		return "", errors.New("the file ends within the length of a block")
	}
	head, err := p.read(int64(binary.BigEndian.Uint32(size[:])), maxHeadB)
	if err != nil {
		return "", err
	}
	var dataB int64 = -1
	err = fields(head, func(num protowire.Number, v uint64, b []byte) error {
		switch num {
		case 1:
			kind = string(b)
		case 3:
			dataB = int64(v)
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	if want == wantNodes && p.block < len(p.r.hasNodes) && !p.r.hasNodes[p.block] && dataB >= 0 {
		p.data = nil
		_, err := p.f.Seek(dataB, io.SeekCurrent)
		return kind, err
	}
	blob, err := p.read(dataB, maxBlobB)
	if err != nil {
		return "", err
	}
	return kind, p.inflate(blob)
}

func (p *pbfReader) read(n, most int64) ([]byte, error) {
	if n < 0 || n > most {
		return nil, fmt.Errorf("a length of %d bytes, more than %d", n, most)
	}
	if at, err := p.f.Seek(0, io.SeekCurrent); err == nil && at+n > p.fileEnd {
		return nil, fmt.Errorf("the file ends %d bytes too early", at+n-p.fileEnd)
	}
	if int64(cap(p.buf)) < n {
		p.buf = make([]byte, n)
	}
	p.buf = p.buf[:n]
	_, err := io.ReadFull(p.f, p.buf)
	return p.buf, err
}

// inflate decompresses a blob into data.
func (p *pbfReader) inflate(blob []byte) error {
	raw, packed, rawB, isOther, err := blobParts(blob)
	switch {
	case err != nil:
		return err
	case packed == nil && raw != nil:
		p.data = raw
		return nil
	case packed == nil && isOther:
		return &routes.Fault{Kind: terrain.ErrInput, File: p.r.path, Feature: fmt.Sprintf("block %d, at byte %d", p.block+1, p.offset),
			What: "it is compressed by a method other than zlib", Fix: "write it again with osmium cat -o NEW.osm.pbf"}
	case packed == nil:
		return errors.New("a block without data")
	case rawB < 0 || rawB > maxBlobB:
		return fmt.Errorf("a block of %d bytes, more than %d", rawB, int64(maxBlobB))
	}
	return p.unzip(packed, rawB)
}

// blobParts are the ways in which a blob can hold its data.
func blobParts(blob []byte) (raw, packed []byte, rawB int64, isOther bool, err error) {
	rawB = -1
	err = fields(blob, func(num protowire.Number, v uint64, b []byte) error {
		switch num {
		case 1:
			raw = b
		case 2:
			rawB = int64(v)
		case 3:
			packed = b
		case 4, 5, 6, 7:
			isOther = true
		}
		return nil
	})
	return raw, packed, rawB, isOther, err
}

// unzip decompresses zlib data of a known length into data, and compares its checksum.
func (p *pbfReader) unzip(packed []byte, rawB int64) (err error) {
	if p.zr == nil {
		p.zr, err = zlib.NewReader(bytes.NewReader(packed))
	} else {
		err = p.zr.(zlib.Resetter).Reset(bytes.NewReader(packed), nil)
	}
	if err != nil {
		return err
	}
	if int64(cap(p.data)) < rawB {
		p.data = make([]byte, rawB)
	}
	p.data = p.data[:rawB]
	if _, err := io.ReadFull(p.zr, p.data); err != nil {
		return err
	}
	var more [1]byte // reading to the end compares the checksum
	if n, err := p.zr.Read(more[:]); n != 0 || err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("a block is longer than it says, or its checksum is wrong: %w", errors.Join(err))
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
