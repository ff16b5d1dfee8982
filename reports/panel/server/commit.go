package server

import (
	"database/sql"
	"slices"
)

// Writes are gathered: while one transaction waits for the disk, those that
// arrive form the next. Forty listeners who answer together then wait for two
// turns of the disk and not for forty. A write is acknowledged after the
// transaction that holds it is on the disk, as if it had been alone.
//
// What a listener has not said does not wait for the disk: a trial that is opened or a
// rendering's conditions are in the log, so that a server that is killed has them, and
// get to the disk with the next answer, which comes after them in the same log. What the
// log holds is moved into the file beside the writing, not within it.

// mostJobs bounds one transaction.
const mostJobs = 64

// job is one write. Its function may run twice, the second time in a
// transaction of its own, and must not keep anything from the first.
type job struct {
	f     func(*sql.Tx) error
	final bool // must be on the disk when it is acknowledged
	done  chan error
}

// write runs f in a transaction, which is on the disk when it returns nil, and
// undone when it returns an error.
func (s *Store) write(f func(*sql.Tx) error) error {
	return s.submit(job{f, true, make(chan error, 1)})
}

// jot is [Store.write] of what may be lost with the power, though not with the process.
func (s *Store) jot(f func(*sql.Tx) error) error { return s.submit(job{f, false, make(chan error, 1)}) }

func (s *Store) submit(j job) error {
	select {
	case s.jobs <- j:
		return <-j.done
	case <-s.ended:
		return ErrClosed
	}
}

// commitJobs runs the writes until the store is closed.
func (s *Store) commitJobs() {
	defer close(s.ended)
	flushes := true // as the connection was opened
	for n := 1; ; n++ {
		select {
		case <-s.quit:
			return
		case first := <-s.jobs:
			batch := s.gather(first)
			final := slices.ContainsFunc(batch, func(j job) bool { return j.final })
			if err := s.flush(flushes, final); err != nil {
				for _, j := range batch {
					j.done <- classify(err)
				}
				continue
			}
			flushes = final
			s.commit(batch)
			if n%checkpointEvery == 0 {
				s.checkpointSoon()
			}
		}
	}
}

// flush lets transactions wait for the disk or not.
func (s *Store) flush(now, want bool) error {
	if now == want {
		return nil
	}
	mode := map[bool]string{true: "FULL", false: "NORMAL"}[want]
	_, err := s.db.Exec("PRAGMA synchronous=" + mode)
	return err
}

// checkpointEvery is the number of transactions after which the log is moved into the
// file: at some 10 pages each it stays within a few megabytes.
const checkpointEvery = 100

// checkpointSoon moves the log into the file in the background, unless that is going on.
func (s *Store) checkpointSoon() {
	select {
	case s.moving <- struct{}{}:
		go func() {
			defer func() { <-s.moving }()
			s.mover.Exec("PRAGMA wal_checkpoint(PASSIVE)") // what fails is tried again later, and on Close
		}()
	default:
	}
}

// commit runs a batch, one by one if it fails as a whole.
func (s *Store) commit(batch []job) {
	results, err := s.together(batch)
	for i, j := range batch {
		if err == nil {
			j.done <- results[i]
		} else {
			j.done <- s.alone(j)
		}
	}
}

// gather adds the writes that wait already.
func (s *Store) gather(first job) []job {
	batch := []job{first}
	for len(batch) < mostJobs {
		select {
		case j := <-s.jobs:
			batch = append(batch, j)
		default:
			return batch
		}
	}
	return batch
}

// together runs several writes in one transaction, each of which can fail for
// itself. An error means that nothing of the batch was done.
func (s *Store) together(batch []job) (results []error, err error) {
	tx, err := s.db.Begin()
	if err != nil {
		return nil, err
	}
	defer tx.Rollback() // no effect after a commit
	for _, j := range batch {
		if _, err := tx.Exec("SAVEPOINT job"); err != nil {
			return nil, err
		}
		failed := classify(j.f(tx))
		end := "RELEASE job"
		if failed != nil {
			end = "ROLLBACK TO job; RELEASE job"
		}
		if _, err := tx.Exec(end); err != nil {
			return nil, err // a full disk has undone the whole transaction
		}
		results = append(results, failed)
	}
	return results, tx.Commit()
}

// alone runs a write in a transaction of its own.
func (s *Store) alone(j job) error {
	tx, err := s.db.Begin()
	if err != nil {
		return classify(err)
	}
	defer tx.Rollback()
	if err := j.f(tx); err != nil {
		return classify(err)
	}
	return classify(tx.Commit())
}
