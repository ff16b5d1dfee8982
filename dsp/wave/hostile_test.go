package wave

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"
)

// hostileBytes is what a few hostile bytes may cost in memory.
const hostileBytes = 16 << 20

// hostileReads is how many reads of the file they may cost: each chunk needs
// its header, and some a few bytes of content.
const hostileReads = 3*maxChunks + 100

// counted counts the reads of a source.
type counted struct {
	io.ReaderAt
	reads int
}

func (c *counted) ReadAt(p []byte, at int64) (int, error) {
	c.reads++
	return c.ReaderAt.ReadAt(p, at)
}

// cost opens and reads a file and returns what that allocated and read.
func cost(src io.ReaderAt, size int64) (alloc uint64, reads int, err error) {
	c := &counted{ReaderAt: src}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	r, err := NewReader(c, size, "hostile.wav")
	if err == nil {
		block := planes(r.Format().Channels, 100)
		for range 100 {
			if _, err = r.Read(block); err != nil {
				break
			}
		}
	}
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc, c.reads, err
}

// TestHostileHeaders are small files that claim much.
func TestHostileHeaders(t *testing.T) {
	mono := fmt16(1, 1, 48000, 16)
	ds64 := func(data uint64) []byte {
		return chunk("ds64", le(uint64(math.MaxUint64), data, uint64(math.MaxUint64), uint32(0)))
	}
	info := func(size uint32) []byte { return chunk("LIST", le("INFOINAM", size, "x\x00")) }
	smpl := le("smpl", uint32(0xFFFFFFF0), make([]byte, 28), uint32(0xFFFFFFFF), uint32(0))
	for name, b := range map[string][]byte{
		"LIST of 4 GiB":             form("RIFF", le("LIST", uint32(0xFFFFFFFE), "INFOINAM", uint32(0xFFFFFFF0))),
		"smpl of 4 GiB":             form("RIFF", smpl),
		"fmt of 4 GiB":              form("RIFF", le("fmt ", uint32(0xFFFFFFFE), mono[8:])),
		"data of 4 GiB":             form("RIFF", mono, le("data", uint32(0xFFFFFFFE), body16)),
		"data of 4 GiB, odd":        form("RIFF", mono, le("data", uint32(0xFFFFFFFD), body16)),
		"chunk of 4 GiB after":      form("RIFF", mono, chunk("data", body16), le("bext", uint32(0xFFFFFFFF))),
		"INFO entry of 4 GiB":       form("RIFF", info(0xFFFFFFFF), mono, chunk("data", body16)),
		"RF64 of 2^63 bytes":        form("RF64", ds64(1<<63), mono, le("data", uint32(0xFFFFFFFF), body16)),
		"RF64 of 2^63-1 bytes":      form("RF64", ds64(1<<63-1), mono, le("data", uint32(0xFFFFFFFF), body16)),
		"RF64 of 2^64-2 bytes":      form("RF64", ds64(1<<64-2), mono, le("data", uint32(0xFFFFFFFF), body16)),
		"RF64 table of 4 Gi":        form("RF64", chunk("ds64", append(make([]byte, 24), 255, 255, 255, 255))),
		"chunk of 2^64-1 in table":  form("RF64", chunk("ds64", le(make([]byte, 24), uint32(1), "LONG", uint64(math.MaxUint64))), le("LONG", uint32(0xFFFFFFFF))),
		"8 channels of 32 bits":     form("RIFF", fmt16(1, 8, 384000, 32), le("data", uint32(0xFFFFFFFF), body16)),
		"LIST of LISTs":             form("RIFF", bytes.Repeat(chunk("LIST", []byte("INFO")), maxChunks-2), mono, chunk("data", body16)),
		"nothing but chunk headers": form("RIFF", bytes.Repeat(chunk("JUNK", nil), 100_000)),
	} {
		alloc, reads, err := cost(bytes.NewReader(b), int64(len(b)))
		if alloc > hostileBytes || reads > hostileReads {
			t.Errorf("%s: %d bytes, %d reads (%v); want at most %d and %d", name, alloc, reads, err, hostileBytes, hostileReads)
		}
	}
}

// endless is a source of any length whose content repeats.
type endless struct{ head, pattern []byte }

func (e endless) ReadAt(p []byte, at int64) (int, error) {
	for i := range p {
		if o := at + int64(i); o < int64(len(e.head)) {
			p[i] = e.head[o]
		} else {
			p[i] = e.pattern[(o-int64(len(e.head)))%int64(len(e.pattern))]
		}
	}
	return len(p), nil
}

// TestHostileLengths are sources of enormous length.
func TestHostileLengths(t *testing.T) {
	mono := fmt16(1, 1, 48000, 16)
	for name, src := range map[string]endless{
		"empty chunks":             {form("RIFF"), chunk("JUNK", nil)},
		"empty chunks after audio": {form("RIFF", mono, chunk("data", body16)), chunk("JUNK", nil)},
		"INFO of 4 GiB":            {form("RIFF", mono, chunk("data", body16), le("LIST", uint32(0xFFFFFFF0), "INFO")), []byte{0}},
		"audio":                    {form("RIFF", mono, le("data", uint32(0xFFFFFFFF))), []byte{0}},
	} {
		alloc, reads, err := cost(src, 1<<62)
		if alloc > hostileBytes || reads > hostileReads {
			t.Errorf("%s: %d bytes, %d reads (%v); want at most %d and %d", name, alloc, reads, err, hostileBytes, hostileReads)
		}
	}
}

// TestReaderMemory: a Reader of a long file holds no more than one of a short
// file.
func TestReaderMemory(t *testing.T) {
	head := form("RIFF", fmt16(1, 2, 96000, 24), le("data", uint32(0xFFFFFFFF)))
	for _, size := range []int64{1 << 10, 1 << 40} {
		alloc, _, err := cost(endless{head, []byte{1, 2, 3}}, size)
		if alloc > 256<<10 || err != nil && err != io.EOF {
			t.Errorf("file of %d bytes: %d bytes of memory, %v", size, alloc, err)
		}
	}
}

// TestUnusableSamples: what is not a number, not finite or beyond any audio
// becomes silence and a warning that names the first frame and the number.
func TestUnusableSamples(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, bits := range []int{32, 64} {
		block := planes(2, 40000)
		for c := range block {
			for i := range block[c] {
				block[c][i] = 0.5
			}
		}
		block[1][12345], block[0][12346], block[1][12347] = nan, inf, nan
		block[0][30000], block[1][39999] = -inf, -2e12
		var body []byte
		for i := range block[0] {
			for c := range block {
				if bits == 32 {
					body = append(body, le(float32(block[c][i]))...)
				} else {
					body = append(body, le(block[c][i])...)
				}
			}
		}
		r := mustRead(t, form("RIFF", fmt16(3, 2, 48000, bits), chunk("data", body)))
		if len(r.Warnings()) != 0 {
			t.Errorf("float %d: warns before reading: %q", bits, r.Warnings())
		}
		for c := range block {
			for i, x := range block[c] {
				if x != 0.5 {
					block[c][i] = 0
				}
			}
		}
		for range 2 { // the count starts anew with the second reading
			compare(t, inBlocks(t, r, 1000), block)
			if w := strings.Join(r.Warnings(), "\n"); !strings.HasPrefix(w, "frame 12345: the first of 5 samples") {
				t.Errorf("float %d: warning %q; want 5 samples from frame 12345 on", bits, w)
			}
			if err := r.SeekFrame(0); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestLargestSample: the bound itself is passed, in both signs.
func TestLargestSample(t *testing.T) {
	r := mustRead(t, form("RIFF", fmt16(3, 1, 48000, 64), chunk("data", le(1e12, -1e12, math.Nextafter(1e12, 2e12)))))
	compare(t, samples(t, r), [][]float64{{1e12, -1e12, 0}})
	if w := fmt.Sprint(r.Warnings()); !strings.Contains(w, "frame 2: the first of 1 ") {
		t.Errorf("warnings %s", w)
	}
}
