package live

import (
	"embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"strings"

	"quietcross/reports/view/plot"
)

// The two files that make up an engine: the compiled program, gzip-compressed, and the
// support script of the Go that compiled it.
const (
	EngineFile  = "engine.wasm.gz"
	SupportFile = "wasm_exec.js"
)

// ErrNoEngine is what the refusal of a program without an engine wraps.
var ErrNoEngine = errors.New("this program was built without the engine of the live page")

// built holds the engine, where `make build` put it.
//
//go:embed built
var built embed.FS

// Parts are what any page needs in which a stage plays: this package's own and others'.
type Parts struct {
	// Style is that of the figures, and Script holds the classes Engine, Deck and Figure
	// with what they need.
	Style  template.CSS
	Script template.JS
	// Engine is the compiled engine and what runs it, for the body of the page before its
	// script.
	Engine template.HTML
}

// holders are the elements by whose ids Script finds the parts of an engine.
const holders = `<script type="text/plain" id="engine">%s</script>
<script type="text/plain" id="support">%s</script>
<script type="text/plain" id="worker">%s</script>
<script type="text/plain" id="worklet">%s</script>
`

// NewParts takes an engine into the parts; nil stands for the program's own. The error
// wraps [ErrNoEngine] where there is none.
func NewParts(files fs.FS) (Parts, error) {
	if files == nil {
		var err error
		if files, err = fs.Sub(built, "built"); err != nil {
			return Parts{}, err
		}
	}
	packed, err := fs.ReadFile(files, EngineFile)
	if errors.Is(err, fs.ErrNotExist) {
		return Parts{}, fmt.Errorf("%w: in a checkout of quietcross, `make build` leaves one with it in bin", ErrNoEngine)
	}
	if err != nil {
		return Parts{}, err
	}
	support, err := fs.ReadFile(files, SupportFile)
	if err != nil {
		return Parts{}, err
	}
	var engine strings.Builder
	fmt.Fprintf(&engine, holders, base64.StdEncoding.EncodeToString(packed), support, asset("queue.js")+asset("worker.js"), asset("worklet.js"))
	return Parts{
		Style:  template.CSS(plot.Style() + asset("figures.css")),
		Script: template.JS(asset("figures.js") + asset("sound.js")),
		Engine: template.HTML(engine.String()),
	}, nil
}
