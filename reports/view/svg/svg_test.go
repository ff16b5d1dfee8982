package svg

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
)

// TestTextSurvivesAnXMLReader writes hostile text as content and as attribute and
// reads it back with the standard library's reader.
func TestTextSurvivesAnXMLReader(t *testing.T) {
	const text = "<script>\"&'\x01</script>\xff"
	c := &Canvas{Lines: true}
	c.Open("g", "class", text)
	c.Element("text", text)
	c.Leaf("rect", "id", text)
	c.Close("g")
	want := strings.ReplaceAll(strings.ToValidUTF8(text, "\ufffd"), "\x01", "\ufffd")
	decoder := xml.NewDecoder(strings.NewReader(c.String()))
	names, found := 0, 0
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v in %s", err, c.String())
		}
		switch token := token.(type) {
		case xml.StartElement:
			names++
			for _, attribute := range token.Attr {
				if attribute.Value == want {
					found++
				}
			}
		case xml.CharData:
			if string(token) == want {
				found++
			}
		}
	}
	if names != 3 || found != 3 {
		t.Errorf("%d elements and %d texts came back of 3 and 3: %s", names, found, c.String())
	}
}
