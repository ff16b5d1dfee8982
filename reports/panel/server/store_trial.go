package server

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

const trialColumns = "id, session, number, token, kind, target, quiescent, bias, residual, gain, odd, choice, started, answered, heard, switches"

// addTrial stores a trial with its items and its key, and sets its ID. It is on the disk
// with the next answer.
func (s *Store) addTrial(t *Trial) error {
	return s.jot(func(tx *sql.Tx) error {
		result, err := tx.Exec(`INSERT INTO trial
			(session, number, token, kind, target, quiescent, bias, residual, gain, odd, started)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			t.Session, t.Number, t.Token, string(t.Kind), t.Target, t.Rung.Quiescent, t.Rung.Bias,
			float64(t.Rung.Residual), float64(t.Rung.Gain), t.Odd, stamp(t.Started))
		if err != nil {
			return err
		}
		if t.ID, err = result.LastInsertId(); err != nil {
			return err
		}
		for _, i := range t.Items {
			if _, err := tx.Exec("INSERT INTO item VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, NULL)",
				t.ID, i.Position, i.Token, int64(i.Seed), string(i.Role), i.Rung.Quiescent, i.Rung.Bias,
				float64(i.Rung.Residual), float64(i.Rung.Gain)); err != nil {
				return err
			}
		}
		return nil
	})
}

// Trials returns the trials of a session in their order, with their items.
func (s *Store) Trials(ctx context.Context, session int64) ([]Trial, error) {
	out, err := s.history(ctx, session)
	if err != nil {
		return nil, err
	}
	return out, s.addItems(ctx, session, out)
}

// history returns the trials of a session in their order, without their items:
// all that the choice of the next trial needs.
func (s *Store) history(ctx context.Context, session int64) ([]Trial, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT "+trialColumns+" FROM trial WHERE session = ? ORDER BY number", session)
	if err != nil {
		return nil, classify(err)
	}
	defer rows.Close()
	var out []Trial
	for rows.Next() {
		t, err := scanTrial(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, classify(rows.Err())
}

// trial returns the trial of a session with a token.
func (s *Store) trial(ctx context.Context, session int64, token string) (*Trial, error) {
	t, err := scanTrial(s.read.QueryRowContext(ctx, "SELECT "+trialColumns+" FROM trial WHERE token = ? AND session = ?", token, session))
	if err != nil {
		return nil, err
	}
	one := []Trial{t}
	return &one[0], s.addItems(ctx, session, one)
}

func scanTrial(row scanner) (Trial, error) {
	var t Trial
	var started, answered sql.NullString
	var heard string
	err := row.Scan(&t.ID, &t.Session, &t.Number, &t.Token, &t.Kind, &t.Target, &t.Rung.Quiescent, &t.Rung.Bias,
		&t.Rung.Residual, &t.Rung.Gain, &t.Odd, &t.Choice, &started, &answered, &heard, &t.Switches)
	if err != nil {
		return t, classify(err)
	}
	if t.Started, err = unstamp(started); err == nil {
		t.Answered, err = unstamp(answered)
	}
	if err == nil {
		err = json.Unmarshal([]byte(heard), &t.Heard)
	}
	if err != nil {
		return t, fmt.Errorf("%w: trial %d: %v", ErrDamaged, t.ID, err)
	}
	return t, nil
}

// addItems fills in the items of trials of a session, whose IDs ascend.
func (s *Store) addItems(ctx context.Context, session int64, trials []Trial) error {
	if len(trials) == 0 {
		return nil
	}
	index := map[int64]int{}
	for i := range trials {
		index[trials[i].ID] = i
	}
	rows, err := s.read.QueryContext(ctx, `SELECT trial, position, item.token, seed, role, item.quiescent, item.bias,
		item.residual, item.gain, grade FROM item JOIN trial ON trial.id = item.trial
		WHERE trial.session = ? AND trial.id >= ? ORDER BY trial, position`, session, trials[0].ID)
	if err != nil {
		return classify(err)
	}
	defer rows.Close()
	for rows.Next() {
		var i Item
		var id, seed int64
		if err := rows.Scan(&id, &i.Position, &i.Token, &seed, &i.Role, &i.Rung.Quiescent, &i.Rung.Bias,
			&i.Rung.Residual, &i.Rung.Gain, &i.Grade); err != nil {
			return classify(err)
		}
		i.Seed = uint64(seed)
		if at, ok := index[id]; ok {
			trials[at].Items = append(trials[at].Items, i)
		}
	}
	return classify(rows.Err())
}

// An attempt is how a listener came to an answer.
type attempt struct {
	heard    []float64 // seconds for which each item was heard
	switches int
}

// answer makes the choice of an open trial final. The same choice again is
// accepted without effect, so that a page may repeat an answer whose receipt it
// did not see; another is refused with [ErrFinal].
func (s *Store) answer(trial int64, choice int, how attempt, at time.Time) error {
	return s.write(func(tx *sql.Tx) error {
		done, err := closeTrial(tx, trial, choice, how, at)
		if err != nil || done {
			return err
		}
		var stored int
		if err := tx.QueryRow("SELECT choice FROM trial WHERE id = ?", trial).Scan(&stored); err != nil {
			return err
		}
		if stored != choice {
			return ErrFinal
		}
		return nil
	})
}

// closeTrial answers an open trial and reports whether it was open.
func closeTrial(tx *sql.Tx, trial int64, choice int, how attempt, at time.Time) (bool, error) {
	heard, err := json.Marshal(append([]float64{}, how.heard...))
	if err != nil {
		return false, err
	}
	result, err := tx.Exec("UPDATE trial SET choice = ?, answered = ?, heard = ?, switches = ? WHERE id = ? AND answered IS NULL",
		choice, stamp(at), string(heard), how.switches, trial)
	if err != nil {
		return false, err
	}
	n, err := result.RowsAffected()
	return n == 1, err
}

// grade makes the grades of an open round final, in the order of the positions
// from 1. The same grades again are accepted without effect.
func (s *Store) grade(trial int64, grades []float64, how attempt, at time.Time) error {
	return s.write(func(tx *sql.Tx) error {
		open, err := closeTrial(tx, trial, 0, how, at)
		if err != nil {
			return err
		}
		for i, g := range grades {
			if open {
				_, err = tx.Exec("UPDATE item SET grade = ? WHERE trial = ? AND position = ?", g, trial, i+1)
			} else {
				err = sameGrade(tx, trial, i+1, g)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func sameGrade(tx *sql.Tx, trial int64, position int, grade float64) error {
	var stored float64
	err := tx.QueryRow("SELECT grade FROM item WHERE trial = ? AND position = ?", trial, position).Scan(&stored)
	if err == nil && stored != grade {
		return ErrFinal
	}
	return err
}
