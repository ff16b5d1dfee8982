package server

import "database/sql"

// Writes are gathered: while one transaction waits for the disk, those that
// arrive form the next. Forty listeners who answer together then wait for two
// turns of the disk and not for forty. A write is acknowledged after the
// transaction that holds it is on the disk, as if it had been alone.

// mostJobs bounds one transaction.
const mostJobs = 64

// job is one write. Its function may run twice, the second time in a
// transaction of its own, and must not keep anything from the first.
type job struct {
	f    func(*sql.Tx) error
	done chan error
}

// write runs f in a transaction, which is on the disk when it returns nil, and
// undone when it returns an error.
func (s *Store) write(f func(*sql.Tx) error) error {
	j := job{f, make(chan error, 1)}
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
	for {
		select {
		case <-s.quit:
			return
		case first := <-s.jobs:
			s.commit(s.gather(first))
		}
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
