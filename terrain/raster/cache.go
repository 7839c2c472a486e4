package raster

import (
	"container/list"
	"runtime"
	"sync"
	"syscall"
	"unsafe"
)

// block is a decoded piece of a raster: raw band values, NaN where void.
type block struct {
	key   uint64
	data  []float32
	mem   memory
	err   error
	bytes int64

	ready chan struct{}
	refs  int // users; a block in use is never dropped
	elem  *list.Element
}

// blockCache keeps decoded blocks up to a byte budget; the least recently used are evicted first.
// Two callers that need the same block decode it once. Blocks are outside the garbage collector's
// heap, since it would let the heap grow to twice their size before it collects. Buffers of evicted
// blocks are reused.
type blockCache struct {
	mu     sync.Mutex
	limit  int64
	used   int64 // blocks in the cache, those being decoded too
	blocks map[uint64]*block
	lru    *list.List // front is the most recent
	spare  []memory

	decodes int64 // for tests and measurements
}

func newBlockCache(limit int64) *blockCache {
	c := &blockCache{limit: limit, blocks: map[uint64]*block{}, lru: list.New()}
	// A surface that is never closed frees its memory when it is collected.
	runtime.SetFinalizer(c, (*blockCache).close)
	return c
}

// acquire returns the block for key, decoding it by fill into a buffer of n values if
// it isn't there. The caller releases it with release.
func (c *blockCache) acquire(key uint64, n int, fill func([]float32) error) *block {
	c.mu.Lock()
	if b := c.blocks[key]; b != nil {
		b.refs++
		c.lru.MoveToFront(b.elem)
		c.mu.Unlock()
		<-b.ready
		return b
	}
	b := &block{key: key, refs: 1, bytes: int64(n) * 4, ready: make(chan struct{})}
	c.blocks[key] = b
	b.elem = c.lru.PushFront(b)
	c.used += b.bytes
	c.decodes++
	c.evict()
	b.mem = c.buffer(n)
	c.mu.Unlock()
	if b.mem == nil {
		b.mem = newMemory(n)
	}
	b.data = b.mem.values(n)
	b.err = fill(b.data)
	close(b.ready)
	return b
}

// release ends a use of b.
func (c *blockCache) release(b *block) {
	c.mu.Lock()
	b.refs--
	c.evict()
	c.mu.Unlock()
}

// evict drops blocks that nobody uses until the budget holds.
func (c *blockCache) evict() {
	for e := c.lru.Back(); e != nil && c.used > c.limit; {
		prev := e.Prev()
		if b := e.Value.(*block); b.refs == 0 {
			c.lru.Remove(e)
			delete(c.blocks, b.key)
			c.used -= b.bytes
			c.recycle(b)
		}
		e = prev
	}
}

const maxSpare = 4

func (c *blockCache) recycle(b *block) {
	if len(c.spare) < maxSpare {
		c.spare = append(c.spare, b.mem)
	} else {
		b.mem.free()
	}
	b.data, b.mem = nil, nil
}

// buffer finds a spare buffer for n values that is not much too long.
func (c *blockCache) buffer(n int) memory {
	for i, s := range c.spare {
		if len(s) >= 4*n && len(s) <= max(6*n, pageBytes) {
			c.spare[i] = c.spare[len(c.spare)-1]
			c.spare = c.spare[:len(c.spare)-1]
			return s
		}
	}
	if len(c.spare) == maxSpare { // none fits: drop the oldest
		c.spare[0].free()
		c.spare = c.spare[:copy(c.spare, c.spare[1:])]
	}
	return nil
}

// close frees all memory; no block may be in use.
func (c *blockCache) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, b := range c.blocks {
		b.mem.free()
		b.data, b.mem = nil, nil
	}
	for _, s := range c.spare {
		s.free()
	}
	c.blocks, c.spare, c.used = map[uint64]*block{}, nil, 0
	c.lru.Init()
}

// memory is a mapping of complete pages from the system, zero at first.
type memory []byte

var pageBytes = syscall.Getpagesize()

// newMemory has room for n values. It panics where the system has no memory left, as Go's own
// allocation does.
func newMemory(n int) memory {
	size := (4*n + pageBytes - 1) / pageBytes * pageBytes
	m, err := syscall.Mmap(-1, 0, max(size, pageBytes), syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	if err != nil {
		panic("raster: no memory for a block: " + err.Error())
	}
	return m
}

func (m memory) values(n int) []float32 {
	return unsafe.Slice((*float32)(unsafe.Pointer(&m[0])), n)
}

func (m memory) free() {
	_ = syscall.Munmap(m) // fails only for an address that is not a mapping
}
