package intake

import "bytes"

// A signature is what files of a kind begin with.
type signature struct {
	offset int
	bytes  string
	kind   string
}

const lossy = "lossy: what it leaves out is where small distortion would be looked for"

// refusals are the kinds that are recognised in order to say why they are
// refused: the signatures are those of their specifications (ISO/IEC 11172-3 and
// id3.org, RFC 3533, ISO/IEC 14496-12, Audio IFF 1.3).
var refusals = []signature{
	{0, "ID3", "an MPEG audio file, " + lossy},
	{0, "\xff\xfb", "an MPEG audio file, " + lossy},
	{0, "\xff\xfa", "an MPEG audio file, " + lossy},
	{0, "\xff\xf3", "an MPEG audio file, " + lossy},
	{0, "\xff\xf2", "an MPEG audio file, " + lossy},
	{0, "\xff\xf1", "an AAC file, " + lossy},
	{0, "\xff\xf9", "an AAC file, " + lossy},
	{0, "OggS", "an Ogg file, as a rule " + lossy},
	{4, "ftyp", "an MPEG-4 file, as a rule " + lossy},
	{0, "\x30\x26\xb2\x75\x8e\x66\xcf\x11", "a compressed file, as a rule " + lossy},
	{0, "FORM", "an IFF or AIFF file: convert it to WAV, which loses nothing"},
	{0, ".snd", "an AU file: convert it to WAV, which loses nothing"},
}

// refused tells whether a file that begins with head is of a kind that is
// recognised and refused, and what to say of it.
func refused(head []byte) (kind string, ok bool) {
	for _, s := range refusals {
		if len(head) >= s.offset && bytes.HasPrefix(head[s.offset:], []byte(s.bytes)) {
			return s.kind, true
		}
	}
	return "", false
}

func isFLAC(head []byte) bool { return bytes.HasPrefix(head, []byte("fLaC")) }
