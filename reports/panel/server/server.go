package server

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

// Config is what a server is started with.
type Config struct {
	Clips    Clips
	Store    *Store
	Settings Settings
	// Conditions of the set, printed with every result.
	Title, SetHash, Version string
	SetSeed                 uint64
	// JoinCode is asked of every address that is not loopback. Without one such
	// addresses are refused.
	JoinCode string
	// Hosts are further names or addresses, without port, under which pages may
	// be asked for; localhost and the loopback addresses always may.
	Hosts []string
	// CacheBytes bounds the memory for sounds; 0 means 512 MiB.
	CacheBytes int64
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
	noises    map[string]*sound
	joinKey   string
	attempts  attempts
	handler   http.Handler

	ahead    chan struct{} // held by the one who renders ahead
	farsight atomic.Bool   // render ahead at all

	mu    sync.Mutex
	locks map[int64]*sync.Mutex
	live  map[int64]*stimulus
	ways  map[int64]*progress
}

// NewServer checks the configuration. It renders nothing yet; see
// [Server.Prepare].
func NewServer(c Config) (*Server, error) {
	if c.Clips == nil || c.Store == nil {
		panic("panel: a server needs clips and a store")
	}
	if err := c.Settings.Validate(); err != nil {
		return nil, err
	}
	s := &Server{
		config: c, store: c.Store, materials: c.Clips.Materials(),
		ladders: map[string]*ladder{}, noises: map[string]*sound{},
		ahead: make(chan struct{}, 1),
		locks: map[int64]*sync.Mutex{}, live: map[int64]*stimulus{},
		ways: map[int64]*progress{},
	}
	if len(s.materials) == 0 {
		return nil, errors.New("panel: the set holds no material")
	}
	cache := newSoundCache(cmp.Or(c.CacheBytes, 512<<20))
	for _, m := range s.materials {
		s.ladders[m] = &ladder{clips: c.Clips, material: m, cache: cache, record: s.recordRung}
	}
	s.farsight.Store(true)
	var err error
	if s.joinKey, err = s.store.fact("join key", token()); err != nil {
		return nil, err
	}
	s.handler = s.guard(s.routes())
	return s, nil
}

func (s *Server) recordRung(material string, r Rung) error {
	return s.store.addRung(material, s.config.SetHash, r)
}

// Prepare renders what the first trials need: the reference and a coarse scan
// of every material. progress, which may be nil, is called before each with its
// name, its number from 1 and the number of all. The server answers before that
// too, but the first listener of a material then waits. A material that cannot be
// offered (too long, without a range of residuals) does not stop the others: the
// start page names it with the reason. The error joins those reasons when no
// material is left, and is ctx's when that ends first.
func (s *Server) Prepare(ctx context.Context, progress func(material string, n, of int)) error {
	var faults []error
	for i, m := range s.materials {
		if progress != nil {
			progress(m, i+1, len(s.materials))
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := s.ladders[m].prepare(); err != nil {
			faults = append(faults, err)
		}
	}
	if len(faults) < len(s.materials) {
		return nil
	}
	return errors.Join(faults...)
}

// Handler returns the panel's pages with all their guards.
func (s *Server) Handler() http.Handler { return s.handler }

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

// newSession begins a session on a material, of a listener who has a code or
// gets one.
func (s *Server) newSession(ctx context.Context, material, name, code, browser string) (*Session, error) {
	if !slices.Contains(s.materials, material) {
		return nil, fmt.Errorf("%w material %q", ErrUnknown, material)
	}
	l := s.ladders[material]
	if err := l.prepare(); err != nil {
		return nil, err
	}
	lo, hi := l.ends()
	v := &Session{
		Token: token(), Code: code, Name: name, Material: material, Settings: s.config.Settings,
		Lo: lo, Hi: hi, Seed: seed(), Title: s.config.Title, SetHash: s.config.SetHash, Version: s.config.Version,
		SetSeed: s.config.SetSeed, Browser: browser, ClipRate: l.rate, Begun: time.Now(),
	}
	for n := 4; v.Code == ""; n = 5 { // the short ones may run out
		c := Code(n)
		taken, err := s.store.codeTaken(ctx, c)
		if err != nil {
			return nil, err
		}
		if !taken {
			v.Code = c
		}
	}
	return v, s.store.addSession(v)
}
