package wave

import (
	"errors"
	"io"
	"math"
	"runtime"
	"testing"
)

// FuzzReader opens and reads arbitrary bytes. Whatever they are: no panic, an
// error with a place in the file or samples that are all audio, as many as
// stated and no more than fit in the file, and at most 16 MiB of memory.
func FuzzReader(f *testing.F) {
	for _, b := range corpus(f) {
		f.Add(b)
	}
	ds64 := chunk("ds64", append(le(uint64(78), uint64(6), uint64(3), uint32(1)), le("LONG", uint64(2))...))
	f.Add(form("RF64", ds64, fmt16(1, 1, 48000, 16), le("data", uint32(0xFFFFFFFF), body16)))
	f.Add(form("BW64", ds64, le("LONG", uint32(0xFFFFFFFF), "xx"), fmt40(2, 48000, 32, 24, 3, subFormat(1)), le("data", uint32(0xFFFFFFFF), body16)))
	f.Add(form("RIFF", chunk("LIST", append([]byte("INFO"), chunk("INAM", []byte("name\x00"))...)), fmt16(3, 1, 48000, 32), chunk("data", le(math.Float32frombits(0x7FC00000)))))
	f.Add(form("RIFF", fmt16(3, 1, 48000, 64), chunk("data", le(math.Inf(1), 1e300, 0.5))))
	f.Fuzz(func(t *testing.T, b []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		fuzzOne(t, b)
		runtime.ReadMemStats(&after)
		if alloc := after.TotalAlloc - before.TotalAlloc; alloc > hostileBytes {
			t.Errorf("%d bytes cost %d bytes of memory", len(b), alloc)
		}
	})
}

func fuzzOne(t *testing.T, b []byte) {
	r, err := readBytes(b)
	if err != nil {
		var e *Error
		if !errors.As(err, &e) || e.Offset < 0 || e.Offset > int64(len(b)) || e.Path == "" || e.Found == "" || e.Legal == "" {
			t.Fatalf("%#v", err)
		}
		return
	}
	format := r.Format()
	if found, _, _ := format.illegal(); found != "" {
		t.Fatalf("%+v is not legal: %s", format, found)
	}
	if n := r.Frames(); n < 0 || n*int64(format.frameBytes()) > int64(len(b)) {
		t.Fatalf("%d frames of %d bytes in a file of %d", n, format.frameBytes(), len(b))
	}
	var total int64
	block := planes(format.Channels, 333)
	for {
		n, err := r.Read(block)
		if n == 0 && err == io.EOF {
			break
		}
		if err != nil || n == 0 {
			t.Fatalf("frame %d: %d, %v", total, n, err)
		}
		total += int64(n)
		for c := range block {
			for i, x := range block[c][:n] {
				if !(math.Abs(x) <= maxMagnitude) {
					t.Fatalf("channel %d, frame %d: %v", c, total-int64(n)+int64(i), x)
				}
			}
		}
	}
	if total != r.Frames() {
		t.Fatalf("%d frames read; %d stated", total, r.Frames())
	}
	again(t, r)
}

// again puts the same samples behind a header of ours, which must give the same
// format without a warning about the header.
func again(t *testing.T, r *Reader) {
	t.Helper()
	size := r.Frames() * int64(r.format.frameBytes())
	raw := make([]byte, size)
	if _, err := r.src.ReadAt(raw, r.data.at); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	h := header{format: r.format, info: r.info.chunk(), limit: maxRIFFSize, frames: r.frames, content: size}
	b := append(h.bytes(), raw...)
	if size%2 != 0 {
		b = append(b, 0)
	}
	second := mustRead(t, b)
	got, want := second.Format(), r.Format()
	got.Extensible, want.Extensible = false, false
	if !want.Extensible && want.ChannelMask == 0 {
		got.ChannelMask = 0 // given by the header to formats that need it
	}
	if got != want || second.Frames() != r.Frames() || len(second.warnings) > 1 {
		t.Fatalf("%+v, %d frames, %q; want %+v, %d", got, second.Frames(), second.warnings, want, r.Frames())
	}
	if second.Info() != r.Info() {
		t.Fatalf("%+v; want %+v", second.Info(), r.Info())
	}
}
