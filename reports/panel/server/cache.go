package server

import (
	"container/list"
	"sync"
)

type soundKey struct {
	material  string
	quiescent float64
}

// soundCache keeps the sounds used last, up to a number of bytes.
type soundCache struct {
	mu    sync.Mutex
	limit int64
	used  int64
	order *list.List // front: used last; values are cached
	index map[soundKey]*list.Element
}

type cached struct {
	key   soundKey
	sound *sound
}

func newSoundCache(limit int64) *soundCache {
	return &soundCache{limit: limit, order: list.New(), index: map[soundKey]*list.Element{}}
}

func (c *soundCache) get(k soundKey) *sound {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.index[k]
	if e == nil {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(cached).sound
}

func (c *soundCache) put(k soundKey, s *sound) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.index[k] != nil {
		return
	}
	c.index[k] = c.order.PushFront(cached{k, s})
	c.used += s.bytes
	for c.used > c.limit && c.order.Len() > 1 {
		last := c.order.Back()
		old := c.order.Remove(last).(cached)
		delete(c.index, old.key)
		c.used -= old.sound.bytes
	}
}
