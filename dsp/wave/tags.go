package wave

import "fmt"

// Format tags of the fmt chunk, as RFC 2361 registers them; 0xFFFE is that of the
// EXTENSIBLE specification.
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// tagName returns in brackets what a tag that is not read stands for. The registry
// gives all others but 0 to compressed formats.
func tagName(tag uint16) string {
	switch tag {
	case 0:
		return " (unknown)"
	case tagExtensible:
		return " (EXTENSIBLE)"
	}
	return " (a compressed format)"
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
