package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/dsp/distortion"
	"quietcross/dsp/intake"
	"quietcross/dsp/wave"
	"quietcross/reports/measure"

	"quietcross/stage/quantity"
)

const measureDescription = `Finds what kind of test signal a recording holds (or is told) and measures it as
the standards define; with --reference, lays the reference over the recording
(delay, gain, clock drift, polarity) and measures what is left.

   quietcross measure bench-tone.wav
   quietcross measure --kind two-tone --tones 60,7000 bench.flac
   quietcross measure --reference played.wav --page result.html recorded.wav

Caution: driving an amplifier with test tones heats it and can destroy a
loudspeaker; use a dummy load, and leave mains-powered work to qualified people.`

func measureCommand() *cli.Command {
	return &cli.Command{
		Name:         "measure",
		Usage:        "measure recordings as the standards do",
		ArgsUsage:    "FILE.wav|FILE.flac...",
		Description:  measureDescription,
		OnUsageError: onUsageError,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "kind", Usage: "the signal is a `KIND`: tone, two-tone, difference-tones, square-and-tone, multitone, ladder, programme or silence (default: find out)"},
			&cli.StringFlag{Name: "tones", Usage: "`LIST` of the signal's frequencies, Hz (default: find them)"},
			&cli.Float64Flag{Name: "notch-q", Usage: "Q of the AES17 notch, 1.2 to 3 (default: 2)"},
			&cli.StringFlag{Name: "reference", Usage: "hold the recordings against `FILE`, what was played"},
			&cli.IntFlag{Name: "linear-taps", Usage: "with --reference: take out a linear response of `N` taps first (odd, 3 to 1025)"},
			&cli.BoolFlag{Name: "json", Usage: "print JSON instead of a table"},
			&cli.StringFlag{Name: "page", Usage: "write a page to `FILE.html` as well"},
		},
		Action: measureFiles,
	}
}

func measureFiles(c *cli.Context) error {
	if !c.Args().Present() {
		return usagef(c, "nothing to measure: name WAV or FLAC files")
	}
	options, err := measureOptions(c)
	if err != nil {
		return err
	}
	line := newProgressLine(c, "measuring")
	var recordings []measure.Recording
	for i, path := range c.Args().Slice() {
		if strings.HasPrefix(path, "-") {
			return usagef(c, "flag %s stands after a file name; write flags first", path)
		}
		if err := c.Context.Err(); err != nil {
			return err
		}
		r, err := measureOne(c, path, options)
		if err != nil {
			line.done()
			return fmt.Errorf("%s: %w", path, err)
		}
		recordings = append(recordings, r)
		line.report(float64(i+1) / float64(c.NArg()))
	}
	line.done()
	return showMeasured(c, recordings)
}

func measureOptions(c *cli.Context) (measure.Options, error) {
	o := measure.Options{Kind: c.String("kind"), NotchQ: c.Float64("notch-q")}
	if c.IsSet("tones") {
		tones, err := parseList(c.String("tones"), parseUnit(quantity.Hertz), true)
		if err != nil {
			return o, usagef(c, "--tones: %w", err)
		}
		o.Tones = tones
	}
	if c.IsSet("linear-taps") && !c.IsSet("reference") {
		return o, usagef(c, "--linear-taps goes with --reference")
	}
	if q := o.NotchQ; q != 0 && (q < distortion.MinNotchQ || q > distortion.MaxNotchQ) {
		return o, usagef(c, "--notch-q: found %g, legal is %g to %g", q, distortion.MinNotchQ, float64(distortion.MaxNotchQ))
	}
	if o.Kind != "" {
		_, err := distortion.ParseKind(o.Kind)
		return o, wrapUsage(c, err)
	}
	return o, nil
}

func measureOne(c *cli.Context, path string, o measure.Options) (measure.Recording, error) {
	r := measure.Recording{File: path, Reference: c.String("reference")}
	if r.Reference != "" {
		return compareOne(r, measure.CompareOptions{LinearTaps: c.Int("linear-taps")})
	}
	stream, err := intake.Open(path)
	if err != nil {
		return r, err
	}
	defer stream.Close()
	r.Format = stream.Format().String()
	r.Report, err = measure.Run(stream, o)
	return r, err
}

// comparedSeconds bounds what is held in memory to compare two recordings.
const comparedSeconds = 600

func compareOne(r measure.Recording, o measure.CompareOptions) (measure.Recording, error) {
	referenceFormat, reference, err := readWhole(r.Reference)
	if err != nil {
		return r, err
	}
	format, capture, err := readWhole(r.File)
	if err != nil {
		return r, err
	}
	r.Format = format.String()
	r.Comparison, err = measure.Compare(reference, capture, referenceFormat.Rate, format.Rate, o)
	return r, err
}

// readWhole reads a file of at most comparedSeconds.
func readWhole(path string) (format wave.Format, audio [][]float64, err error) {
	stream, err := intake.Open(path)
	if err != nil {
		return format, nil, err
	}
	defer stream.Close()
	format = stream.Format()
	if seconds := stream.Frames() / int64(format.Rate); seconds > comparedSeconds {
		return format, nil, fmt.Errorf("%s: %d s long; legal are up to %d s, cut out a part", path, seconds, comparedSeconds)
	}
	audio = make([][]float64, format.Channels)
	for ch := range audio {
		audio[ch] = make([]float64, stream.Frames())
	}
	for from := 0; from < len(audio[0]); {
		rest := make([][]float64, len(audio))
		for ch := range rest {
			rest[ch] = audio[ch][from:]
		}
		n, err := stream.Read(rest)
		if err != nil {
			return format, nil, err
		}
		from += n
	}
	return format, audio, nil
}

// showMeasured prints the result and writes the page if one is asked for.
func showMeasured(c *cli.Context, recordings []measure.Recording) error {
	if page := c.String("page"); page != "" {
		err := corpus.WriteFile(page, func(w io.Writer) error { return measure.WritePage(w, recordings) })
		if err != nil {
			return err
		}
	}
	if c.Bool("json") {
		return measure.WriteJSON(c.App.Writer, programVersion(), recordings)
	}
	return measure.WriteTable(c.App.Writer, recordings)
}
