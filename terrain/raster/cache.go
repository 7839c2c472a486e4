package raster

import (
	"container/list"
	"sync"
)

// block is a decoded piece of a raster: raw band values, NaN where void.
type block struct {
	key   uint64
	data  []float32
	err   error
	bytes int64

	ready chan struct{}
	refs  int // users; a block in use is never dropped
	elem  *list.Element
}

// blockCache keeps decoded blocks up to a byte budget, least recently used out
// first. Two callers that want the same block decode it once. Buffers of evicted
// blocks are used again, so that the budget is also what the heap holds.
type blockCache struct {
	mu     sync.Mutex
	limit  int64
	used   int64 // blocks in the cache, those being decoded too
	blocks map[uint64]*block
	lru    *list.List // front is the latest
	spare  [][]float32

	decodes int64 // for tests and measurements
}

func newBlockCache(limit int64) *blockCache {
	return &blockCache{limit: limit, blocks: map[uint64]*block{}, lru: list.New()}
}

// take returns the block for key, decoding it by fill into a buffer of n values if
// it isn't there. The caller gives it back with give.
func (c *blockCache) take(key uint64, n int, fill func([]float32) error) *block {
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
	b.data = c.buffer(n)
	c.mu.Unlock()
	if b.data == nil {
		b.data = make([]float32, n)
	}
	b.err = fill(b.data)
	close(b.ready)
	return b
}

// give ends a use of b.
func (c *blockCache) give(b *block) {
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
		c.spare = append(c.spare, b.data)
	}
	b.data = nil
}

// buffer finds a spare of at least n values that isn't wastefully long.
func (c *blockCache) buffer(n int) []float32 {
	for i, s := range c.spare {
		if cap(s) >= n && cap(s) <= n+n/2 {
			c.spare[i] = c.spare[len(c.spare)-1]
			c.spare = c.spare[:len(c.spare)-1]
			return s[:n]
		}
	}
	if len(c.spare) == maxSpare { // none fits: let the oldest go
		c.spare = c.spare[:copy(c.spare, c.spare[1:])]
	}
	return nil
}
