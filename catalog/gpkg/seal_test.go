package gpkg

import (
	"database/sql/driver"
	"encoding/binary"
	"hash/crc32"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A check sum is CRC-32C over kind, eight bytes and text of each value in order, however the pieces
// are put together: files keep it for years.
func TestASumIsThatOfAllBytesInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var values []driver.Value
		var all []byte
		for range rapid.IntRange(0, 12).Draw(t, "values") {
			n := rapid.OneOf(rapid.IntRange(0, 40), rapid.IntRange(200, 520), rapid.IntRange(0, 2000)).Draw(t, "bytes")
			text := strings.Repeat("x", n)
			kind := byte('t')
			if rapid.Bool().Draw(t, "is a blob") {
				kind = 'b'
				values = append(values, []byte(text))
			} else {
				values = append(values, text)
			}
			all = append(binary.LittleEndian.AppendUint64(append(all, kind), uint64(n)), text...)
		}
		if got, want := sumOf(values), crc32.Checksum(all, crc32.MakeTable(crc32.Castagnoli)); got != want {
			t.Fatalf("%08x, all bytes in order give %08x", got, want)
		}
	})
}
