package gpkg_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"gradeline/catalog/gpkg"
)

// A catalogue is made, changed in one transaction, and read.
func Example() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	ctx := context.Background()
	file, err := gpkg.Open(ctx, filepath.Join(dir, "hills.gpkg"), gpkg.Options{Create: true, Tool: "example"})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer file.Close()
	err = file.Change(ctx, func() error { // all of it, or nothing
		return file.LogHistory("note", "Ada", "", "", "the first line of the history")
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	err = file.Read(ctx, func(q gpkg.Querier) error {
		var by, words string
		if _, err := gpkg.First(q, []any{&by, &words}, "SELECT done_by, words FROM history"); err != nil {
			return err
		}
		fmt.Printf("%s: %s\n", by, words)
		return nil
	})
	if err != nil {
		fmt.Println(err)
	}
	// Output: Ada: the first line of the history
}
