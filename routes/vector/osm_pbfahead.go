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
	"sync"

	"golang.org/x/sync/semaphore"
	"google.golang.org/protobuf/encoding/protowire"

	"gradeline/routes"
	"gradeline/terrain"
)

// Decompression takes most of the time of reading a file, so the blocks ahead of the one that is
// decoded are decompressed by other goroutines. The order of the blocks is that of the file.
const (
	aheadBlocks = 16
	aheadB      = 2 * maxBlobB // memory of the blocks ahead; the largest block fits
)

// aheadBlock is a block on its way from the file to its decoding.
type aheadBlock struct {
	kind   string
	offset int64
	weight int64  // of its memory
	data   []byte // nil where the block was skipped
	err    error
	ready  chan struct{} // closed when data and err are there
}

// pbfAhead reads and decompresses the blocks of a file.
type pbfAhead struct {
	r       *osmReader
	f       *os.File
	fileEnd int64
	want    wanted
	head    []byte
	room    *semaphore.Weighted
	out     chan *aheadBlock
	unzips  sync.WaitGroup
}

// run reads the blocks until the end of the file, a fault, or the end of ctx.
func (p *pbfAhead) run(ctx context.Context) {
	defer close(p.out)
	defer p.unzips.Wait()
	for n := 0; ctx.Err() == nil; n++ {
		b := &aheadBlock{ready: make(chan struct{})}
		err := p.next(ctx, b, n)
		if errors.Is(err, errEndOfFile) {
			return
		}
		if err != nil {
			b.err = err
			close(b.ready)
		}
		select {
		case p.out <- b:
		case <-ctx.Done():
			return
		}
		if err != nil {
			return
		}
	}
}

var errEndOfFile = errors.New("the file ends after a block")

// next reads a block and has its data decompressed; errEndOfFile only at the end of the file. In the
// second pass blocks without nodes are skipped and have no data.
func (p *pbfAhead) next(ctx context.Context, b *aheadBlock, n int) (err error) {
	if b.offset, err = p.f.Seek(0, io.SeekCurrent); err != nil {
		return err
	}
	var size [4]byte
	if n, err := io.ReadFull(p.f, size[:]); n == 0 && errors.Is(err, io.EOF) {
		return errEndOfFile
	} else if err != nil {
		return errors.New("the file ends within the length of a block")
	}
	if p.head, err = p.read(p.head, int64(binary.BigEndian.Uint32(size[:])), maxHeadB); err != nil {
		return err
	}
	var dataB int64 = -1
	err = fields(p.head, func(num protowire.Number, v uint64, text []byte) error {
		switch num {
		case 1:
			b.kind = string(text)
		case 3:
			dataB = int64(v)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if p.want == wantNodes && n < len(p.r.hasNodes) && !p.r.hasNodes[n] && dataB >= 0 {
		if _, err := p.f.Seek(dataB, io.SeekCurrent); err != nil {
			return err
		}
		close(b.ready)
		return nil
	}
	blob, err := p.read(nil, dataB, maxBlobB)
	if err != nil {
		return err
	}
	return p.unpack(ctx, b, n, blob)
}

func (p *pbfAhead) read(buf []byte, n, most int64) ([]byte, error) {
	if n < 0 || n > most {
		return buf, fmt.Errorf("a length of %d bytes, more than %d", n, most)
	}
	if at, err := p.f.Seek(0, io.SeekCurrent); err == nil && at+n > p.fileEnd {
		return buf, fmt.Errorf("the file ends %d bytes too early", at+n-p.fileEnd)
	}
	if int64(cap(buf)) < n {
		buf = make([]byte, n)
	}
	buf = buf[:n]
	_, err := io.ReadFull(p.f, buf)
	return buf, err
}

// unpack takes the data out of a blob, in a goroutine where they are compressed.
func (p *pbfAhead) unpack(ctx context.Context, b *aheadBlock, n int, blob []byte) error {
	raw, packed, rawB, isOther, err := blobParts(blob)
	switch {
	case err != nil:
		return err
	case packed == nil && raw != nil:
		b.data = raw
		close(b.ready)
		return nil
	case packed == nil && isOther:
		return &routes.Fault{Kind: terrain.ErrInput, File: p.r.path, Feature: fmt.Sprintf("block %d, at byte %d", n+1, b.offset),
			What: "it is compressed by a method other than zlib", Fix: "write it again with osmium cat -o NEW.osm.pbf"}
	case packed == nil:
		return errors.New("a block without data")
	case rawB < 0 || rawB > maxBlobB:
		return fmt.Errorf("a block of %d bytes, more than %d", rawB, int64(maxBlobB))
	}
	weight := min(aheadB, int64(len(blob))+rawB)
	if err := p.room.Acquire(ctx, weight); err != nil {
		return err
	}
	b.weight = weight
	p.unzips.Go(func() {
		defer close(b.ready)
		b.data, b.err = unzipped(packed, rawB)
	})
	return nil
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

// Decompressors and their output are used again.
var (
	unzippers  sync.Pool // of io.ReadCloser
	plainBytes sync.Pool // of *[]byte
)

// unzipped decompresses zlib data of a known length, and compares its checksum.
func unzipped(packed []byte, rawB int64) (data []byte, err error) {
	zr, _ := unzippers.Get().(io.ReadCloser)
	if zr == nil {
		zr, err = zlib.NewReader(bytes.NewReader(packed))
	} else {
		err = zr.(zlib.Resetter).Reset(bytes.NewReader(packed), nil)
	}
	if err != nil {
		return nil, err
	}
	defer unzippers.Put(zr)
	if kept, _ := plainBytes.Get().(*[]byte); kept != nil && int64(cap(*kept)) >= rawB {
		data = (*kept)[:rawB]
	} else {
		data = make([]byte, rawB)
	}
	if _, err := io.ReadFull(zr, data); err != nil {
		return nil, err
	}
	var more [1]byte // reading to the end compares the checksum
	if n, err := zr.Read(more[:]); n != 0 || err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("a block is longer than it says, or its checksum is wrong: %w", errors.Join(err))
	}
	return data, nil
}

// release gives back the memory of a block that was decoded.
func (p *pbfAhead) release(b *aheadBlock) {
	if b.weight > 0 {
		p.room.Release(b.weight)
		data := b.data
		plainBytes.Put(&data)
	}
}
