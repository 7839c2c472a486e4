package gpkg

import (
	"database/sql/driver"
	"encoding/binary"
	"hash/crc32"
	"math"
	"unsafe"

	"gradeline/terrain"
)

// SQLite has no check sums: a flipped bit inside a row reads as another number. So the rows with
// advice have a check sum of their own, the seal. A row that is damaged, or was changed by another
// program, no longer matches it.

var sealTable = crc32.MakeTable(crc32.Castagnoli)

// Seal is the check sum of a row: of its columns in the upper half, of its further details in the
// lower, so that a reader without the details can check it too.
func Seal(columns []driver.Value, details string) int64 {
	return int64(uint64(sumOf(columns))<<32 | uint64(crc32.Checksum(bytesIn(details), sealTable)))
}

// CheckSeal fails where a row does not match its seal. A row without one, from before
// there were seals, passes.
func CheckSeal(seal driver.Value, columns []driver.Value, details string) error {
	want, isThere := seal.(int64)
	if !isThere {
		return nil
	}
	if Seal(columns, details) == want {
		return nil
	}
	return &Fault{Kind: terrain.ErrRead, What: "its figures are damaged or were changed by another program: they don't match their check sum",
		Fix: "survey its road again, or restore the last copy"}
}

// CheckOwnSeal is CheckSeal for rows that never lack a seal.
func CheckOwnSeal(seal driver.Value, columns []driver.Value, details string) error {
	if seal == nil {
		seal = Seal(columns, details) + 1
	}
	return CheckSeal(seal, columns, details)
}

// bytesIn are the bytes of a string, not to be written to: a copy of each text that is
// read or written would cost more than its sum.
func bytesIn(s string) []byte { return unsafe.Slice(unsafe.StringData(s), len(s)) }

// sumOf is the same for a written value and for the value read back: the driver returns a truth
// value for an integer in a BOOLEAN column.
func sumOf(values []driver.Value) uint32 {
	const most = 480 // bytes that are put together; the sum of many short pieces takes longer
	var kept [512]byte
	b, sum := kept[:0], uint32(0)
	for _, v := range values {
		kind, text := byte('n'), []byte(nil)
		var bits uint64
		switch x := v.(type) {
		case int64:
			kind, bits = 'i', uint64(x)
		case bool:
			kind = 'i'
			if x {
				bits = 1
			}
		case float64:
			kind, bits = 'f', math.Float64bits(x)
		case string:
			kind, bits, text = 't', uint64(len(x)), bytesIn(x)
		case []byte:
			kind, bits, text = 'b', uint64(len(x)), x
		}
		b = binary.LittleEndian.AppendUint64(append(b, kind), bits)
		if len(b)+len(text) > most || len(text) > most/2 {
			sum = crc32.Update(sum, sealTable, b)
			b = kept[:0]
		}
		if len(text) > most/2 {
			sum = crc32.Update(sum, sealTable, text)
			continue
		}
		b = append(b, text...)
	}
	return crc32.Update(sum, sealTable, b)
}
