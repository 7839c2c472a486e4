package gpkg

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
)

// Erase runs f, which deletes rows, in one change. Then it rewrites the file, so that it holds no
// byte of what was deleted: not in free pages, not between the rows of a page, not in a journal or
// a write-ahead log. Copies of the file, and sectors of the disk that were released, are beyond it.
func (c *File) Erase(ctx context.Context, f func() error) error {
	if err := c.Change(ctx, func() error {
		// SQLite overwrites deleted content with zeros (sqlite.org/pragma.html#pragma_secure_delete).
		if _, err := c.w.ExecContext(ctx, "PRAGMA secure_delete = ON"); err != nil {
			return err
		}
		return f()
	}); err != nil {
		return err
	}
	return c.rewrite(ctx)
}

// rewrite copies the live rows into a fresh file of the same name. Pages that were split may still
// hold rows in their unused part, which secure_delete does not reach.
func (c *File) rewrite(ctx context.Context) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	db, err := c.pool(c.path, "rw")
	if err != nil {
		return c.Fault(err, "rewriting")
	}
	db.SetMaxOpenConns(1)
	defer db.Close()
	for _, s := range []string{"PRAGMA secure_delete = ON", "PRAGMA temp_store = MEMORY", "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		if _, err := db.ExecContext(ctx, s); err != nil {
			return &Fault{Kind: ErrWrite, File: c.path, What: "the rows are deleted, but the file was not rewritten and may still hold bytes of them", Err: err,
				Fix: "close other programs that use it, check the free space of its folder, and forget the same number again"}
		}
	}
	return c.Fault(errors.Join(db.Close()), "rewriting")
}

// KeptCopies lists the copies that migrations have left in the file's folder.
func (c *File) KeptCopies() []string {
	list, err := filepath.Glob(strings.TrimSuffix(c.path, ".gpkg") + ".kept-*.gpkg")
	if err != nil { // a path with a pattern's characters
		return nil
	}
	return list
}
