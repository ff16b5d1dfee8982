package server

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"quietcross/dsp/level"
)

// Config is what a server is started with.
type Config struct {
	Clips    Clips
	Store    *Store
	Settings Settings
	// Plan, if not nil, says what each listener hears; its settings are used then.
	Plan *Plan
	// Names asks listeners for a name; they are called by codes otherwise.
	Names bool
	// RunKey is the secret part of the address of the page for whoever runs the panel;
	// without one there is no such page.
	RunKey string
	// Conditions of the set, printed with every result.
	Title, SetHash, Version string
	SetSeed                 uint64
	// JoinCode is asked of every address that is not loopback. Without one such
	// addresses are refused.
	JoinCode string
	// Hosts are further names or addresses, without port, under which pages may
	// be asked for; localhost and the loopback addresses always may.
	Hosts []string
	// Secure tells that browsers come by TLS, here or at a proxy: cookies go no other way.
	// Behind tells that a proxy stands in front, so that no request is taken for one of
	// this machine's own.
	Secure, Behind bool
	// Noise is how long the reference noise must be played; 0 means 5 s.
	Noise time.Duration
	// ReadTimeout is how long a client may take over a request and StallTimeout
	// how long over receiving one block of a clip; 0 means 10 s and 30 s.
	ReadTimeout, StallTimeout time.Duration
}

// Server is a listening panel. Create it with [NewServer].
type Server struct {
	config    Config
	store     *Store
	materials []string
	ladders   map[string]*ladder
	joinKey   string
	attempts  attempts
	handler   http.Handler

	preparing sync.Mutex
	prepared  chan struct{} // closed when the clips are ready; level stands from then on
	level     *playback
	done      atomic.Int32 // materials prepared

	spool     spool
	encoding  chan struct{} // held for each block of a clip that is being made
	enrolling sync.Mutex    // listeners get their numbers one after another
	ahead     chan struct{} // held by the one who renders ahead
	farsight  atomic.Bool   // render ahead at all

	closing atomic.Pointer[string] // when the panel was closed, once that was asked for

	mu     sync.Mutex
	locks  map[int64]*sync.Mutex
	live   map[int64]*stimulus
	ways   map[int64]*progress
	passed map[int64]bool // which finished sessions pass the criteria of exclusion
	// fetched is when each session last fetched the reference noise.
	fetched map[int64]time.Time
}

// NewServer checks the configuration. It renders nothing yet; see
// [Server.Prepare].
func NewServer(c Config) (*Server, error) {
	if c.Clips == nil || c.Store == nil {
		panic("panel: a server needs clips and a store")
	}
	if c.Plan != nil {
		c.Settings, c.Names = c.Plan.Settings, c.Plan.Names
	}
	if err := c.Settings.Validate(); err != nil {
		return nil, err
	}
	s := &Server{
		config: c, store: c.Store, materials: c.Clips.Materials(),
		ladders: map[string]*ladder{}, prepared: make(chan struct{}), fetched: map[int64]time.Time{},
		ahead: make(chan struct{}, 1), encoding: make(chan struct{}, encoders()),
		locks: map[int64]*sync.Mutex{}, live: map[int64]*stimulus{},
		ways: map[int64]*progress{}, passed: map[int64]bool{},
	}
	if err := s.choose(); err != nil {
		return nil, err
	}
	for _, m := range s.materials {
		s.ladders[m] = &ladder{clips: c.Clips, material: m, spool: &s.spool, record: s.store.addRung}
	}
	s.farsight.Store(true)
	var err error
	if s.joinKey, err = s.store.fact("join key", token()); err != nil {
		return nil, err
	}
	s.handler = s.guard(s.routes())
	return s, nil
}

// choose takes the plan's materials, or all of the set.
func (s *Server) choose() error {
	if len(s.materials) == 0 {
		return errors.New("panel: the set holds no material")
	}
	if s.config.Plan == nil || len(s.config.Plan.Materials) == 0 {
		return nil
	}
	for _, m := range s.config.Plan.Materials {
		if !slices.Contains(s.materials, m) {
			return fmt.Errorf("panel: the plan names the material %q; the set holds %s", m, strings.Join(s.materials, ", "))
		}
	}
	s.materials = s.config.Plan.Materials
	return nil
}

// Prepare renders what the first trials need, the reference and a coarse scan of every
// material, and fixes the level at which the set is played. progress, which may be nil,
// is called before each material with its name, its number from 1 and the number of
// all. The server answers before that too, but nobody can begin. A material that cannot
// be offered (too long, without a range of residuals, without the current of a triangle
// test) does not stop the others, unless a plan asks for it: the start page names it
// with the reason. The error joins those reasons when no material is left, and is ctx's
// when that ends first.
func (s *Server) Prepare(ctx context.Context, progress func(material string, n, of int)) error {
	s.preparing.Lock()
	defer s.preparing.Unlock()
	if s.level != nil {
		return nil
	}
	var faults []error
	var usable []*ladder
	for i, m := range s.materials {
		if progress != nil {
			progress(m, i+1, len(s.materials))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		l := s.ladders[m]
		if err := l.prepare(s.config.Settings); err != nil {
			faults = append(faults, err)
		} else {
			usable = append(usable, l)
		}
		s.done.Add(1)
	}
	if len(usable) == 0 || s.config.Plan != nil && len(faults) > 0 {
		return errors.Join(faults...)
	}
	level, err := s.fixLevel(usable)
	if err != nil {
		return err
	}
	s.level = level
	close(s.prepared)
	return nil
}

// fixLevel returns the level of the set, the same whenever it is asked for.
func (s *Server) fixLevel(ladders []*ladder) (*playback, error) {
	hash := sha256.New()
	for _, l := range ladders {
		fmt.Fprintln(hash, l.stimulus)
	}
	stored, err := s.store.fact("gain "+hex.EncodeToString(hash.Sum(nil)[:8]), number(float64(gainOf(ladders))))
	if err != nil {
		return nil, err
	}
	gain, err := strconv.ParseFloat(stored, 64)
	if err != nil {
		return nil, fmt.Errorf("%w: gain %q", ErrDamaged, stored)
	}
	return newPlayback(ladders, level.DB(gain)), nil
}

// patience is how long a request waits for the clips to be ready.
const patience = time.Minute

// await waits until the clips are ready, and reports false when that takes too long.
func (s *Server) await(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	select {
	case <-s.prepared:
		return true
	case <-ctx.Done():
		return false
	}
}

// ready reports whether the clips are ready.
func (s *Server) ready() bool {
	select {
	case <-s.prepared:
		return true
	default:
		return false
	}
}

// Handler returns the panel's pages with all their guards.
func (s *Server) Handler() http.Handler { return s.handler }

// Close lets the clips go; it follows the last request.
func (s *Server) Close() error { return s.spool.close() }

// Serve answers on the listener until ctx is done, then lets running requests
// end for up to five seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	read := cmp.Or(s.config.ReadTimeout, 10*time.Second)
	h := &http.Server{
		Handler: s.handler, ReadHeaderTimeout: read, ReadTimeout: read,
		// Rendering a rung takes its time; clips set a deadline for every block.
		WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 16 << 10,
	}
	stopped := make(chan error, 1)
	stop := context.AfterFunc(ctx, func() {
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		stopped <- h.Shutdown(last)
	})
	err := h.Serve(l)
	if errors.Is(err, http.ErrServerClosed) && !stop() {
		return <-stopped
	}
	return err
}

// lock returns the lock of a session, held.
func (s *Server) lock(id int64) (unlock func()) {
	s.mu.Lock()
	l := s.locks[id]
	if l == nil {
		l = &sync.Mutex{}
		s.locks[id] = l
	}
	s.mu.Unlock()
	l.Lock()
	return l.Unlock
}

func (s *Server) keep(session int64, made *stimulus) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.live[session] = made
}

func (s *Server) kept(session int64) *stimulus {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.live[session]
}
