package server

import (
	"context"
	"database/sql"
	"fmt"
)

// Forget deletes a listener, known by the code, with all sessions, trials and grades,
// and leaves nothing of them in the file. It returns the number of answers deleted, and
// [ErrUnknown] for a code that nobody has.
func (s *Store) Forget(ctx context.Context, code string) (answers int, err error) {
	const own = "(SELECT id FROM session WHERE code = ?)"
	err = s.read.QueryRowContext(ctx, "SELECT count(*) FROM trial WHERE answered IS NOT NULL AND session IN "+own, code).Scan(&answers)
	if err != nil {
		return 0, classify(err)
	}
	err = s.write(func(tx *sql.Tx) error {
		if _, err := tx.Exec("DELETE FROM item WHERE trial IN (SELECT id FROM trial WHERE session IN "+own+")", code); err != nil {
			return err
		}
		if _, err := tx.Exec("DELETE FROM trial WHERE session IN "+own, code); err != nil {
			return err
		}
		result, err := tx.Exec("DELETE FROM session WHERE code = ?", code)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return fmt.Errorf("%w listener %q", ErrUnknown, code)
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	// What was deleted is overwritten, in the file and in its log.
	if _, err := s.db.ExecContext(ctx, "VACUUM"); err != nil {
		return answers, classify(err)
	}
	_, err = s.db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return answers, classify(err)
}
