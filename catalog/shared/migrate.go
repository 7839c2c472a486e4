package shared

import (
	"context"

	"github.com/jackc/pgx/v5"
)

// migrate brings an older catalogue up to date, in one transaction under the lock.
func (s *session) migrate(ctx context.Context, conn *pgx.Conn) error {
	now, err := s.read(ctx, conn)
	if err != nil {
		return err
	}
	return s.older(now.version)
}
