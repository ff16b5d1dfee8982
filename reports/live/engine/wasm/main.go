//go:build js && wasm

// Command wasm is the engine of the live page, for a worker: it offers one function,
// engine(name, argument, ...buffers), to the worker's script and then waits for ever. What
// plays is asked of an export of the compiled program, play(frames).
//
// The argument is JSON and so is the result; sound and laws travel beside them in
// Uint8Arrays. The function returns an array of the result and its buffers, or a string
// that says what is wrong.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"syscall/js"
	"time"
	"unsafe"

	"quietcross/dsp/hearing"
	"quietcross/reports/live/engine"
)

func main() {
	collectSeldom()
	js.Global().Set("engine", js.FuncOf(func(_ js.Value, args []js.Value) any { return theWorker.call(args) }))
	select {}
}

// theWorker is the one that this program is.
var theWorker = &worker{ease: usualEase, scope: sync.OnceValue(engine.NewScope)}

// A worker is the engine in one of the page's workers: a solver that also looks at the
// sound, or a player.
type worker struct {
	solver   engine.Solver
	solution *engine.Solution
	digest   *engine.Digest // of the source that was made or read last
	ease     float64        // of long calls: how long they rest for each time at work
	player   *engine.Player
	block    [][]float32
	played   []float64            // the last block, as the script takes it
	place    [2]uint32            // where that is
	scope    func() *engine.Scope // of another worker's player
	portrait *engine.Portrait     // of what it looks at
}

// call runs one method and turns its results into what the script takes. The last argument
// of a patient method is a function that is told the result when it is there: it rests
// again and again, so that the worker answers other calls meanwhile.
func (w *worker) call(args []js.Value) any {
	if name := args[0].String(); name == "predict" || name == "portrait" {
		done := args[len(args)-1]
		buffers := taken(args[2 : len(args)-1])
		go func() { done.Invoke(w.answer(name, []byte(args[1].String()), buffers)) }()
		return nil
	}
	return w.answer(args[0].String(), []byte(args[1].String()), taken(args[2:]))
}

// taken copies buffers from the script.
func taken(args []js.Value) [][]byte {
	buffers := make([][]byte, 0, 2)
	for _, a := range args {
		data := make([]byte, a.Length())
		js.CopyBytesToGo(data, a)
		buffers = append(buffers, data)
	}
	return buffers
}

func (w *worker) answer(name string, argument []byte, buffers [][]byte) any {
	result, out, err := w.run(name, argument, buffers)
	if err != nil {
		return err.Error()
	}
	text, err := json.Marshal(result)
	if err != nil {
		return err.Error()
	}
	list := js.Global().Get("Array").New(string(text))
	for _, data := range out {
		list.Call("push", toScript(data))
	}
	return list
}

func toScript(data []byte) js.Value {
	array := js.Global().Get("Uint8Array").New(len(data))
	js.CopyBytesToJS(array, data)
	return array
}

// run finds the method.
func (w *worker) run(name string, argument []byte, buffers [][]byte) (result any, out [][]byte, err error) {
	switch name {
	case "pieces":
		return engine.Pieces(), nil, nil
	case "describe":
		return w.describe(argument)
	case "solve":
		return w.solve(argument)
	case "file":
		return w.file(argument)
	case "portrait":
		return w.survey()
	case "tone":
		return w.tone(argument)
	case "circuit":
		return w.circuit()
	case "match":
		return w.match(argument, buffers)
	case "digest":
		return nil, nil, w.digestOf(argument, buffers)
	case "ease":
		w.ease, err = read[float64](argument)
		return nil, nil, err
	case "generate":
		return w.generate(argument)
	case "decode":
		return w.decode(argument, buffers)
	case "record":
		return w.record(argument, buffers)
	case "predict":
		return w.predict(argument, buffers)
	case "load":
		return nil, nil, w.load(argument, buffers)
	case "live":
		return nil, nil, w.live(argument, buffers)
	case "hear":
		return nil, nil, w.hear(buffers)
	case "follow":
		return nil, nil, w.follow(argument)
	case "work":
		return w.work(argument)
	case "law":
		return nil, nil, w.law(argument, buffers)
	case "stage":
		return nil, nil, w.stage(argument, buffers)
	case "controls":
		return nil, nil, w.controls(argument)
	case "seek":
		return nil, nil, w.seek(argument)
	case "rewind":
		return w.rewind(argument)
	case "rehearse":
		return nil, nil, w.rehearse(argument)
	case "tell":
		return w.tell()
	case "note":
		return nil, nil, w.note(buffers)
	case "view":
		return w.view(argument)
	}
	return nil, nil, fmt.Errorf("engine: no method %q", name)
}

func read[T any](argument []byte) (v T, err error) {
	err = json.Unmarshal(argument, &v)
	return v, err
}

func (w *worker) describe(argument []byte) (any, [][]byte, error) {
	file, err := read[string](argument)
	if err != nil {
		return nil, nil, err
	}
	sheet, err := w.solver.Describe(file)
	return sheet, nil, err
}

func (w *worker) solve(argument []byte) (any, [][]byte, error) {
	request, err := read[engine.Request](argument)
	if err != nil {
		return nil, nil, err
	}
	solution, err := w.solver.Solve(request)
	if err != nil {
		return nil, nil, err
	}
	w.solution = solution
	law, err := solution.Law.MarshalBinary()
	return solution, [][]byte{law}, err
}

func (w *worker) file(argument []byte) (any, [][]byte, error) {
	request, err := read[engine.Request](argument)
	if err != nil {
		return nil, nil, err
	}
	text, err := w.solver.File(request)
	return text, nil, err
}

var errUnsolved = errors.New("engine: no stage was solved yet")

// survey portrays the stage that was solved last. Other calls are answered meanwhile.
func (w *worker) survey() (any, [][]byte, error) {
	if w.solution == nil {
		return nil, nil, errUnsolved
	}
	portrait, err := w.solution.Portrait(func() { time.Sleep(time.Microsecond) })
	return portrait, nil, err
}

func (w *worker) tone(argument []byte) (any, [][]byte, error) {
	want, err := read[struct{ Hertz, Peak float64 }](argument)
	if err != nil {
		return nil, nil, err
	}
	if w.solution == nil {
		return nil, nil, errUnsolved
	}
	tone, err := w.solution.Tone(want.Hertz, want.Peak)
	return tone, nil, err
}

// circuit returns the solved stage, for a player to follow.
func (w *worker) circuit() (any, [][]byte, error) {
	if w.solution == nil {
		return nil, nil, errUnsolved
	}
	c, err := w.solution.Circuit()
	return c, nil, err
}

// recording is sound that travels.
type recording struct {
	Rate     int      `json:"rate"`
	Format   string   `json:"format"`
	Warnings []string `json:"warnings"`
}

func (w *worker) generate(argument []byte) (any, [][]byte, error) {
	want, err := read[struct {
		Name string
		Rate int
		Seed uint64
	}](argument)
	if err != nil {
		return nil, nil, err
	}
	audio, err := engine.Generate(want.Name, want.Rate, want.Seed)
	if err != nil {
		return nil, nil, err
	}
	w.digest = engine.NewDigest(audio, want.Rate)
	return recording{Rate: want.Rate}, asBytes(audio), nil
}

func (w *worker) decode(argument []byte, buffers [][]byte) (any, [][]byte, error) {
	name, err := read[string](argument)
	if err != nil {
		return nil, nil, err
	}
	r, err := engine.Decode(name, buffers[0])
	if err != nil {
		return nil, nil, err
	}
	w.digest = engine.NewDigest(r.Audio, r.Rate)
	return recording{r.Rate, r.Format, r.Warnings}, asBytes(r.Audio), nil
}

// digestOf digests a source that was made elsewhere.
func (w *worker) digestOf(argument []byte, buffers [][]byte) error {
	rate, err := read[int](argument)
	if err == nil {
		w.digest = engine.NewDigest(asFloats[float32](buffers), rate)
	}
	return err
}

// match returns the gain that makes the last source as loud behind a law as before it.
func (w *worker) match(argument []byte, buffers [][]byte) (any, [][]byte, error) {
	p, err := read[programme](argument)
	if err != nil {
		return nil, nil, err
	}
	if w.digest == nil {
		return nil, nil, errUnloaded
	}
	law, err := lawOf(buffers[0])
	if err != nil {
		return nil, nil, err
	}
	return w.digest.Match(law, p.Drive, p.Controls), nil, nil
}

// programme says what to play and how.
type programme struct {
	Channels int // of a live source
	Rate     int
	Drive    float64
	Controls engine.Controls
	Heard    *hearing.Conditions // of a prediction, nil: the usual ones
	Circuit  *engine.Circuit     // of a recording in time, nil: through the law
}

// record renders the sound in the buffers, the law first, as a WAV file.
func (w *worker) record(argument []byte, buffers [][]byte) (any, [][]byte, error) {
	p, err := read[programme](argument)
	if err != nil {
		return nil, nil, err
	}
	law, err := lawOf(buffers[0])
	if err != nil {
		return nil, nil, err
	}
	var audio [][]float32
	if source := asFloats[float32](buffers[1:]); p.Circuit != nil {
		audio, err = engine.RecordInTime(source, p.Rate, law, *p.Circuit, p.Drive, p.Controls, tell)
	} else {
		audio, err = engine.Record(source, p.Rate, law, p.Drive, p.Controls, tell)
	}
	if err != nil {
		return nil, nil, err
	}
	return nil, [][]byte{engine.Encode(audio, p.Rate)}, nil
}

// predict predicts whether the stage is heard in the sound in the buffers, the law first.
func (w *worker) predict(argument []byte, buffers [][]byte) (any, [][]byte, error) {
	p, err := read[programme](argument)
	if err != nil {
		return nil, nil, err
	}
	law, err := lawOf(buffers[0])
	if err != nil {
		return nil, nil, err
	}
	heard := hearing.DefaultConditions()
	if p.Heard != nil {
		heard = *p.Heard
	}
	verdict, err := engine.Predict(asFloats[float32](buffers[1:]), p.Rate, law, p.Drive, p.Controls, heard, w.rested())
	return verdict, nil, err
}

// tell reports the progress of a long call.
func tell(share float64) bool {
	js.Global().Call("progress", share)
	return true
}

// How long a patient call works at a time, and how long it rests after that, in times of
// it, unless the page says otherwise. It looks that often while it rests.
const (
	slice     = 6 * time.Millisecond
	usualEase = 3
	looking   = 25 * time.Millisecond
)

// rested tells nothing, but lets a patient call rest whenever it was at work for a slice.
func (w *worker) rested() func(share float64) bool {
	began := time.Now()
	return func(float64) bool {
		worked := time.Since(began)
		if worked < slice {
			return true
		}
		for from := time.Now(); time.Since(from) < time.Duration(w.ease*float64(worked)); {
			time.Sleep(min(looking, time.Duration(w.ease*float64(worked))))
		}
		began = time.Now()
		return true
	}
}

// asBytes views planar audio as bytes, and asFloats bytes as planar audio: WebAssembly
// is little-endian, as scripts' typed arrays are.
func asBytes[T float32 | float64](audio [][]T) [][]byte {
	var list [][]byte
	for _, x := range audio {
		list = append(list, unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(x))), int(unsafe.Sizeof(x[0]))*len(x)))
	}
	return list
}

func asFloats[T float32 | float64](buffers [][]byte) [][]T {
	var audio [][]T
	for _, data := range buffers {
		var sample T
		audio = append(audio, unsafe.Slice((*T)(unsafe.Pointer(unsafe.SliceData(data))), len(data)/int(unsafe.Sizeof(sample))))
	}
	return audio
}
