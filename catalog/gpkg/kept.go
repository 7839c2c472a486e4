package gpkg

// Kept is what a reading connection keeps from one Read to the next: values that were read, compared
// with their check sums and unpacked. It is emptied when SQLite's counter shows that another
// connection has changed the file. So it is as old as the pages that SQLite itself keeps, not older.
type Kept struct {
	file    *File
	version int64 // of the counter, when the values were read
	values  map[KeptKey]keptValue
	sizeB   int64
}

// KeptKey names a value: its kind, which the caller numbers, and the key of its row.
type KeptKey struct {
	Kind uint8
	Key  int64
}

type keptValue struct {
	value any
	sizeB int64
}

// mostKeptB is the memory of all values that the readers of a file keep.
const mostKeptB = 48 << 20

// KeptBy is what the connection of a Read keeps; nil for any other, such as the writer.
func KeptBy(q Querier) *Kept {
	if r, ok := q.(*reader); ok {
		return &r.kept
	}
	return nil
}

// isOf says at which state of the counter the next values are read.
func (k *Kept) isOf(version int64) {
	if k.version != version {
		k.clear()
		k.version = version
	}
}

func (k *Kept) clear() {
	k.file.keptB.Add(-k.sizeB)
	k.values, k.sizeB = nil, 0
}

// Get returns a value; nil where it is not kept. The caller must not change it.
func (k *Kept) Get(key KeptKey) any {
	if k == nil {
		return nil
	}
	return k.values[key].value
}

// Put keeps a value of about so many bytes, in the place of others where there is no room.
func (k *Kept) Put(key KeptKey, value any, sizeB int) {
	if k == nil {
		return
	}
	k.drop(key)
	for other := range k.values { // in no order
		if k.file.keptB.Load()+int64(sizeB) <= mostKeptB {
			break
		}
		k.drop(other)
	}
	if k.file.keptB.Add(int64(sizeB)) > mostKeptB { // the other readers keep too much
		k.file.keptB.Add(-int64(sizeB))
		return
	}
	if k.values == nil {
		k.values = map[KeptKey]keptValue{}
	}
	k.values[key] = keptValue{value, int64(sizeB)}
	k.sizeB += int64(sizeB)
}

func (k *Kept) drop(key KeptKey) {
	sizeB := k.values[key].sizeB
	delete(k.values, key)
	k.sizeB -= sizeB
	k.file.keptB.Add(-sizeB)
}
