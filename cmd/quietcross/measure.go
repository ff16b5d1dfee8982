package main

import (
	"context"
	"fmt"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"quietcross/corpus"
	"quietcross/dsp/distortion"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
	"quietcross/reports/measure"
	"quietcross/stage/quantity"
)

const measureDescription = `Finds what kind of test signal a recording holds (or is told) and measures it as
the standards define; with --reference, lays the reference over the recording
(delay, gain, clock drift, polarity) and measures what is left.

   quietcross measure bench-tone.wav
   quietcross measure --kind two-tone --tones 60,7000 bench.flac
   quietcross measure --reference played.wav --page result.html recorded.wav`

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
			&cli.Float64Flag{Name: "notch-q", Value: measure.UsualNotchQ, Usage: "Q of the AES17 notch, 1.2 to 3"},
			&cli.StringFlag{Name: "reference", Usage: "hold the recordings against `FILE`, what was played"},
			&cli.IntFlag{Name: "linear-taps", DefaultText: "none", Usage: "with --reference: take out a linear response of `N` taps first (odd, 3 to 1025)"},
			jsonFlag(),
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
		if err := checkArgument(c, path); err != nil {
			return err
		}
		share := func(part float64) { line.report((float64(i) + part) / float64(c.NArg())) }
		r, err := measureOne(c, path, options, share)
		if err != nil {
			line.done()
			return err
		}
		recordings = append(recordings, r)
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
	if q := o.NotchQ; !(q >= distortion.MinNotchQ && q <= distortion.MaxNotchQ) {
		return o, usagef(c, "--notch-q: found %g, legal is %g to %g", q, distortion.MinNotchQ, float64(distortion.MaxNotchQ))
	}
	if o.Kind != "" {
		_, err := distortion.ParseKind(o.Kind)
		return o, wrapUsage(c, err)
	}
	return o, nil
}

// measureOne measures the file at path; errors name the file.
func measureOne(c *cli.Context, path string, o measure.Options, share func(float64)) (measure.Recording, error) {
	r := measure.Recording{File: path, Reference: c.String("reference")}
	if r.Reference != "" {
		return compareOne(c.Context, r, measure.CompareOptions{LinearTaps: c.Int("linear-taps")}, share)
	}
	stream, err := openWatched(c.Context, path, share)
	if err != nil {
		return r, err
	}
	defer stream.Close()
	r.Format = stream.Format().String()
	if r.Report, err = measure.Run(stream, o); err != nil {
		return r, stream.name(err)
	}
	r.Report.Warnings = append(stream.Warnings(), r.Report.Warnings...)
	return r, nil
}

// comparedSeconds bounds what is held in memory to compare two recordings.
const comparedSeconds = 600

func compareOne(ctx context.Context, r measure.Recording, o measure.CompareOptions, share func(float64)) (measure.Recording, error) {
	reference, err := readWhole(ctx, r.Reference, func(part float64) { share(part / 2) })
	if err != nil {
		return r, err
	}
	capture, err := readWhole(ctx, r.File, func(part float64) { share((1 + part) / 2) })
	if err != nil {
		return r, err
	}
	r.Format = capture.format.String()
	r.Comparison, err = measure.Compare(reference.audio, capture.audio, reference.format.Rate, capture.format.Rate, o)
	if err != nil {
		return r, fmt.Errorf("%s: %w", r.File, err)
	}
	r.Comparison.Warnings = slices.Concat(reference.warnings, capture.warnings, r.Comparison.Warnings)
	return r, nil
}

// held is a file held in memory.
type held struct {
	format   wave.Format
	audio    planar.Audio
	warnings []string
}

// checkCompared refuses what is too long to be held and compared.
func checkCompared(frames int64, rate int) error {
	if seconds := frames / int64(rate); seconds > comparedSeconds {
		return fmt.Errorf("%d s long; legal are up to %d s, cut out a part", seconds, comparedSeconds)
	}
	return nil
}

// readWhole reads a file of at most comparedSeconds.
func readWhole(ctx context.Context, path string, share func(float64)) (*held, error) {
	stream, err := openWatched(ctx, path, share)
	if err != nil {
		return nil, err
	}
	defer stream.Close()
	h := &held{format: stream.Format()}
	if err := checkCompared(stream.Frames(), h.format.Rate); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if h.audio, err = planar.ReadAll(stream, h.format.Channels); err != nil {
		return nil, stream.name(err)
	}
	for _, warning := range stream.Warnings() {
		h.warnings = append(h.warnings, path+": "+warning)
	}
	return h, nil
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
