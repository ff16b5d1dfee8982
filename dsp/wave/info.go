package wave

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"strings"
	"unicode"

	"github.com/go-audio/riff"
	"github.com/go-audio/wav"
)

// Info is text that travels in a file's LIST INFO chunk, so that a file which
// leaves its folder still says what it is and whose. Each is at most 8 KiB of
// UTF-8 without a zero byte.
type Info struct {
	Title     string // INAM
	Artist    string // IART
	Copyright string // ICOP
	Comment   string // ICMT
	Software  string // ISFT
}

var idInfo = [4]byte{'I', 'N', 'F', 'O'}

const (
	// maxInfoBytes bounds the INFO chunk that is looked at.
	maxInfoBytes = 64 << 10
	// maxTextBytes bounds each text, so that all of them fit.
	maxTextBytes = maxInfoBytes / 8
)

// readInfo lets the library decode the INFO chunk. It does so rightly when
// every size inside is bounded, and allocates what a size claims when not;
// hence the check first. A faulty INFO chunk is a warning: it carries no audio.
func (g *guard) readInfo() (Info, error) {
	if g.info.at == 0 {
		return Info{}, nil
	}
	if g.info.size > maxInfoBytes {
		g.warn(g.info.at-4, "INFO of %d bytes is ignored; legal: at most %d", g.info.size, maxInfoBytes)
		return Info{}, nil
	}
	b := make([]byte, g.info.size)
	if err := g.read(b, g.info.at); err != nil {
		return Info{}, err
	}
	if fault := infoFault(b); fault >= 0 {
		g.warn(g.info.at+int64(fault), "INFO is ignored, an entry in it runs past its end")
		return Info{}, nil
	}
	d := wav.NewDecoder(nil)
	if err := wav.DecodeListChunk(d, &riff.Chunk{ID: wav.CIDList, Size: len(b), R: bytes.NewReader(b)}); err != nil {
		g.warn(g.info.at, "INFO is ignored: %v", err)
		return Info{}, nil
	}
	m := d.Metadata
	return Info{
		Title:     clean(m.Title),
		Artist:    clean(m.Artist),
		Copyright: clean(m.Copyright),
		Comment:   clean(m.Comments),
		Software:  clean(m.Software),
	}, nil
}

// infoFault returns the offset of the first entry that does not fit in the INFO
// list b, or -1.
func infoFault(b []byte) int {
	at := len(idInfo)
	for len(b)-at >= chunkHeaderBytes {
		size := int64(binary.LittleEndian.Uint32(b[at+4:]))
		if size > int64(len(b)-at-chunkHeaderBytes) {
			return at
		}
		at += chunkHeaderBytes + int(size+size%2)
	}
	return -1
}

// clean makes text of unknown origin, character set and length fit to print and
// to be written again.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsGraphic(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(s, "\uFFFD"))
	if len(s) > maxTextBytes {
		s = strings.ToValidUTF8(s[:maxTextBytes], "") // a rune may be cut
	}
	return strings.TrimSpace(s)
}

// check refuses text that could not be read back.
func (i Info) check() error {
	for _, e := range i.entries() {
		if len(e.text) > maxTextBytes {
			return fmt.Errorf("%s entry of %d bytes; legal: at most %d", e.id, len(e.text), maxTextBytes)
		}
		if strings.ContainsRune(e.text, 0) {
			return fmt.Errorf("%s entry holds a zero byte; legal: text without, for it would end there", e.id)
		}
	}
	return nil
}

type infoEntry struct{ id, text string }

func (i Info) entries() []infoEntry {
	return []infoEntry{
		{"INAM", i.Title},
		{"IART", i.Artist},
		{"ICOP", i.Copyright},
		{"ICMT", i.Comment},
		{"ISFT", i.Software},
	}
}

// chunk lays out the LIST chunk, or nothing for an empty Info. Each text ends
// with a zero byte and each entry is padded to an even length.
func (i Info) chunk() []byte {
	body := idInfo[:]
	for _, e := range i.entries() {
		if e.text == "" {
			continue
		}
		body = appendChunk(body, [4]byte([]byte(e.id)), uint32(len(e.text)+1))
		body = append(append(body, e.text...), 0)
		if len(body)%2 != 0 {
			body = append(body, 0)
		}
	}
	if len(body) == len(idInfo) {
		return nil
	}
	return append(appendChunk(nil, idList, uint32(len(body))), body...)
}
