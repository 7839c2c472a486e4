package vehicle

import (
	"fmt"
	"reflect"
	"strings"
)

// nearKey is ` (did you mean "…"?)` for the key of the same table that begins as an unknown key does
// over more than half of the longer one; empty where there is none.
func nearKey(path []string) string {
	table := reflect.TypeFor[fileTOML]()
	for _, name := range path[:len(path)-1] {
		next := fieldOfKey(table, name)
		for next != nil && (next.Kind() == reflect.Slice || next.Kind() == reflect.Pointer) {
			next = next.Elem()
		}
		if next == nil || next.Kind() != reflect.Struct {
			return ""
		}
		table = next
	}
	wrong, best, alike := path[len(path)-1], "", 0
	for i := range table.NumField() {
		key := table.Field(i).Tag.Get("toml")
		n := commonStart(wrong, key)
		if n > alike && 2*n > max(len(wrong), len(key)) {
			best, alike = key, n
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}

func fieldOfKey(table reflect.Type, key string) reflect.Type {
	for i := range table.NumField() {
		if table.Field(i).Tag.Get("toml") == key {
			return table.Field(i).Type
		}
	}
	return nil
}

func commonStart(a, b string) int {
	n := 0
	for n < min(len(a), len(b)) && strings.EqualFold(a[n:n+1], b[n:n+1]) {
		n++
	}
	return n
}
