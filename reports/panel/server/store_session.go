package server

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strconv"
	"time"
)

const sessionColumns = `id, token, code, name, material, settings, lo, hi, seed, title, set_hash, version, set_seed,
	device, spl, clip_rate, played_rate, device_rate, begun, level_set, finished,
	stimulus, listener, part, room, matched, noise_heard, playback, gain, dither, consented`

// addSession stores a new session and sets its ID.
func (s *Store) addSession(v *Session) error {
	settings, err := json.Marshal(v.Settings)
	if err != nil {
		return fmt.Errorf("panel: settings: %w", err)
	}
	return s.write(func(tx *sql.Tx) error {
		result, err := tx.Exec(`INSERT INTO session
			(token, code, name, material, settings, lo, hi, seed, title, set_hash, version, set_seed, clip_rate, begun,
			stimulus, listener, part, gain, dither, consented)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			v.Token, v.Code, v.Name, v.Material, string(settings), v.Lo, v.Hi, int64(v.Seed), v.Title, v.SetHash,
			v.Version, strconv.FormatUint(v.SetSeed, 10), v.ClipRate, stamp(v.Begun), v.Stimulus, v.Listener, v.Part, float64(v.Gain),
			(*float64)(v.Dither), stampOr(v.Consented))
		if err != nil {
			return err
		}
		v.ID, err = result.LastInsertId()
		return err
	})
}

// session returns the session of a browser's token.
func (s *Store) session(ctx context.Context, token string) (*Session, error) {
	return scanSession(s.read.QueryRowContext(ctx, "SELECT "+sessionColumns+" FROM session WHERE token = ?", token))
}

// Sessions returns all sessions in the order they began.
func (s *Store) Sessions(ctx context.Context) ([]*Session, error) {
	rows, err := s.read.QueryContext(ctx, "SELECT "+sessionColumns+" FROM session ORDER BY id")
	if err != nil {
		return nil, classify(err)
	}
	defer rows.Close()
	var out []*Session
	for rows.Next() {
		v, err := scanSession(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, classify(rows.Err())
}

type scanner interface{ Scan(dst ...any) error }

func scanSession(row scanner) (*Session, error) {
	v := &Session{}
	var settings, setSeed string
	var begun, level, finished, consented sql.NullString
	var seed int64
	err := row.Scan(&v.ID, &v.Token, &v.Code, &v.Name, &v.Material, &settings, &v.Lo, &v.Hi, &seed, &v.Title, &v.SetHash,
		&v.Version, &setSeed, &v.Device, &v.SPL, &v.ClipRate, &v.PlayedRate, &v.DeviceRate, &begun, &level, &finished,
		&v.Stimulus, &v.Listener, &v.Part, &v.Room, &v.Matched, &v.NoiseHeard, &v.Playback, &v.Gain, &v.Dither, &consented)
	if err != nil {
		return nil, classify(err)
	}
	v.Seed = uint64(seed)
	if err := json.Unmarshal([]byte(settings), &v.Settings); err != nil {
		return nil, fmt.Errorf("%w: settings of session %d: %v", ErrDamaged, v.ID, err)
	}
	if v.SetSeed, err = strconv.ParseUint(setSeed, 10, 64); err != nil {
		return nil, fmt.Errorf("%w: seed of session %d: %v", ErrDamaged, v.ID, err)
	}
	for text, dst := range map[*sql.NullString]*time.Time{&begun: &v.Begun, &level: &v.LevelSet, &finished: &v.Finished, &consented: &v.Consented} {
		if *dst, err = unstamp(*text); err != nil {
			return nil, fmt.Errorf("%w: time of session %d: %v", ErrDamaged, v.ID, err)
		}
	}
	return v, nil
}

// setLevel stores that the listening level was set, and how.
func (s *Store) setLevel(v *Session, at time.Time) error {
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("UPDATE session SET device = ?, room = ?, spl = ?, matched = ?, playback = ?, level_set = ? WHERE id = ?",
			v.Device, v.Room, v.SPL, v.Matched, (*float64)(v.Playback), stamp(at), v.ID)
		return err
	})
}

// hearNoise stores how long the reference noise was played, in seconds; the longest
// time stands.
func (s *Store) hearNoise(id int64, seconds float64) error {
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("UPDATE session SET noise_heard = max(noise_heard, ?) WHERE id = ?", seconds, id)
		return err
	})
}

// setRates stores the rates of the browser and of the audio device.
func (s *Store) setRates(id int64, played, device int) error {
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("UPDATE session SET played_rate = ?, device_rate = ? WHERE id = ?", played, device, id)
		return err
	})
}

// finish stores that a session is over; the first time stands.
func (s *Store) finish(id int64, at time.Time) error {
	return s.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("UPDATE session SET finished = ? WHERE id = ? AND finished IS NULL", stamp(at), id)
		return err
	})
}

// addRung stores a rendering's conditions; the first of equal ones stands. It is on the
// disk with the next answer.
func (s *Store) addRung(material, stimulus string, r Rung) error {
	return s.jot(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT OR IGNORE INTO rung VALUES (?, ?, ?, ?, ?, ?, ?)",
			material, stimulus, r.Quiescent, r.Bias, float64(r.Residual), float64(r.Gain), float64(r.Quiet))
		return err
	})
}

// Rungs returns every rendering of a material's stimulus, ascending current. The column
// is called set_hash, for in files of version 1 it held that.
func (s *Store) Rungs(ctx context.Context, material, stimulus string) ([]Rung, error) {
	rows, err := s.read.QueryContext(ctx,
		"SELECT quiescent, bias, residual, gain, coalesce(quiet, 0) FROM rung WHERE material = ? AND set_hash = ? ORDER BY quiescent", material, stimulus)
	if err != nil {
		return nil, classify(err)
	}
	defer rows.Close()
	var out []Rung
	for rows.Next() {
		var r Rung
		if err := rows.Scan(&r.Quiescent, &r.Bias, &r.Residual, &r.Gain, &r.Quiet); err != nil {
			return nil, classify(err)
		}
		out = append(out, r)
	}
	return out, classify(rows.Err())
}
