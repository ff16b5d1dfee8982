package wave

import "fmt"

// Format tags of the fmt chunk (registered in RFC 2361 and the Microsoft
// multimedia headers).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// tagName returns " (NAME)" for the tags that are met in practice.
func tagName(tag uint16) string {
	names := map[uint16]string{
		0x0000: "unknown", 0x0002: "Microsoft ADPCM", 0x0006: "A-law", 0x0007: "µ-law",
		0x0010: "OKI ADPCM", 0x0011: "IMA ADPCM", 0x0016: "G.723 ADPCM", 0x0017: "Dialogic ADPCM",
		0x0020: "Yamaha ADPCM", 0x0022: "TrueSpeech", 0x0031: "GSM 6.10", 0x0040: "G.721 ADPCM",
		0x0050: "MPEG layer 1 or 2", 0x0055: "MPEG layer 3", 0x0064: "G.726 ADPCM", 0x0065: "G.722 ADPCM",
		0x0092: "AC-3 over S/PDIF", 0x00FF: "AAC", 0x0160: "Windows Media Audio 1", 0x0161: "Windows Media Audio 2",
		0x0162: "Windows Media Audio Pro", 0x0163: "Windows Media Audio lossless", 0x2000: "AC-3", 0x2001: "DTS",
		0xF1AC: "FLAC", tagExtensible: "EXTENSIBLE",
	}
	if name, ok := names[tag]; ok {
		return " (" + name + ")"
	}
	return ""
}

// guidTail is what follows the tag in the sub-format identifiers that are made
// from format tags: XXXXXXXX-0000-0010-8000-00AA00389B71 as stored.
var guidTail = [14]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

// hasTag tells whether a stored sub-format identifier is made from a tag, which
// then is in its first two bytes.
func hasTag(id [16]byte) bool { return [14]byte(id[2:]) == guidTail }

// guidString renders a stored identifier; its first three groups are
// little-endian.
func guidString(id [16]byte) string {
	return fmt.Sprintf("{%02X%02X%02X%02X-%02X%02X-%02X%02X-%X-%X}",
		id[3], id[2], id[1], id[0], id[5], id[4], id[7], id[6], id[8:10], id[10:])
}
