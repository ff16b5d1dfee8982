//go:build js && wasm

package main

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// A worker has one thread, so a collection of its garbage holds up what it does, and those of
// all workers hold up each other where processors are few. Usually one comes whenever the
// little that lives has doubled, several times a second while a bias moves. Here it comes
// when there are about so many bytes of garbage.
const room = 64 << 20

// minimumLive is what the runtime takes a smaller heap for, bytes.
const minimumLive = 4 << 20

// collectSeldom sees to that now and after each collection.
func collectSeldom() {
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}} // at the end of the last collection
	metrics.Read(live)
	debug.SetGCPercent(int(100 * room / max(live[0].Value.Uint64(), minimumLive)))
	runtime.SetFinalizer(new([16]byte), func(*[16]byte) { collectSeldom() })
}
