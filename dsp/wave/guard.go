package wave

import (
	"encoding/binary"
	"fmt"
	"io"

	"github.com/go-audio/riff"
)

const (
	riffHeaderBytes  = 12
	chunkHeaderBytes = 8
	// unknown32 stands in a 32-bit size for "not known yet" in a streamed file
	// and for "see the ds64 chunk" in RF64 and BW64.
	unknown32 = 0xFFFFFFFF
	// streamed32 holds the bits that are set in a streaming writer's placeholder.
	streamed32 = 0x7FFFF000
	// maxChunks bounds the work that a file of empty chunks can cause.
	maxChunks = 4096
)

var (
	idRF64 = [4]byte{'R', 'F', '6', '4'}
	idBW64 = [4]byte{'B', 'W', '6', '4'}
	idDS64 = [4]byte{'d', 's', '6', '4'}
	idList = [4]byte{'L', 'I', 'S', 'T'}
)

// extent is a stretch of the file.
type extent struct {
	at, size int64
}

func (e extent) end() int64 { return e.at + e.size }

// guard walks the chunks of a file and bounds every size against the file's
// real length before anything is allocated or handed on.
type guard struct {
	r        io.ReaderAt
	size     int64
	name     string
	long     bool   // RF64 or BW64
	riffSize uint32 // as stored
	ds64     *ds64
	fmt      extent
	data     extent
	info     extent // of the first LIST chunk of type INFO
	warnings []string

	streamed, truncated bool // the data chunk
}

// scan reads the layout of a file of size bytes.
func scan(r io.ReaderAt, size int64, name string) (*guard, error) {
	g := &guard{r: r, size: size, name: name}
	if err := g.form(); err != nil {
		return nil, err
	}
	if err := g.chunks(); err != nil {
		return nil, err
	}
	switch {
	case g.fmt.at == 0:
		return nil, g.fault(size, "end of file without a fmt chunk", "one fmt chunk before the data chunk")
	case g.data.at == 0:
		return nil, g.fault(size, "end of file without a data chunk", "one data chunk")
	}
	if g.fmt.at > g.data.at {
		g.warn(g.fmt.at-chunkHeaderBytes, "fmt chunk after the data chunk")
	}
	g.checkForm()
	return g, nil
}

// checkForm compares the length that the form states with the file's. It bounds
// nothing: the chunks were held against the real length.
func (g *guard) checkForm() {
	stated, at := uint64(g.riffSize), int64(4)
	if g.ds64 != nil && g.riffSize == unknown32 {
		stated, at = g.ds64.riff, g.ds64.at
	}
	held := uint64(g.size - chunkHeaderBytes)
	switch {
	case g.streamed || g.truncated || stated == held:
	case g.ds64 == nil && stated == unknown32:
		g.warn(at, "the size of the form was never filled in; the data chunk is believed")
	case stated > held && stated-held > uint64(g.size%2):
		g.warn(at, "truncated: the form declares %d bytes and the file holds %d of them", stated, held)
	case stated < uint64(g.data.end()-chunkHeaderBytes):
		g.warn(at, "the form declares %d bytes, which end within the audio; the data chunk is believed", stated)
	}
}

func (g *guard) fault(at int64, found, legal string) error {
	return &Error{Path: g.name, Offset: at, Found: found, Legal: legal}
}

func (g *guard) warn(at int64, format string, args ...any) {
	g.warnings = append(g.warnings, fmt.Sprintf("byte %d: ", at)+fmt.Sprintf(format, args...))
}

// read fills b from offset at, which the caller has bounded by the file length.
func (g *guard) read(b []byte, at int64) error {
	if _, err := readFullAt(g.r, b, at); err != nil {
		return &Error{Path: g.name, Offset: at, Found: fmt.Sprintf("cannot read %d bytes", len(b)), Err: err}
	}
	return nil
}

// form checks the first twelve bytes.
func (g *guard) form() error {
	if g.size < riffHeaderBytes {
		return g.fault(0, fmt.Sprintf("a file of %d bytes", g.size), "at least the 12 bytes of a RIFF header")
	}
	var head [riffHeaderBytes]byte
	if err := g.read(head[:], 0); err != nil {
		return err
	}
	switch id := [4]byte(head[:4]); id {
	case riff.RiffID:
	case idRF64, idBW64:
		g.long = true
	default:
		return g.fault(0, fmt.Sprintf("container %q%s", id[:], containerName(id)), "RIFF, RF64 or BW64")
	}
	g.riffSize = binary.LittleEndian.Uint32(head[4:])
	if form := [4]byte(head[8:]); form != riff.WavFormatID {
		return g.fault(8, fmt.Sprintf("RIFF form %q", form[:]), `"WAVE"`)
	}
	return nil
}

// containerName explains the identifiers of containers that are met under the
// name of a WAV file.
func containerName(id [4]byte) string {
	switch string(id[:]) {
	case "RIFX":
		return " (big-endian RIFF)"
	case "riff":
		return " (64-bit wave with GUID chunks)"
	case "FORM":
		return " (AIFF)"
	case "fLaC":
		return " (FLAC)"
	case "OggS":
		return " (Ogg)"
	}
	if string(id[:3]) == "ID3" || id[0] == 0xFF && id[1]&0xE0 == 0xE0 {
		return " (MPEG audio)"
	}
	return ""
}
