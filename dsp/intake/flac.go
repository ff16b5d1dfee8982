package intake

import (
	"bytes"
	"crypto/md5"
	"errors"
	"fmt"
	"hash"
	"io"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"

	"quietcross/dsp/wave"
)

// flacReader reads a FLAC file (RFC 9639) frame by frame. Each frame's checksums
// are held by the decoder, the file's MD5 and its stated length at the end here.
type flacReader struct {
	name   string
	stream *flac.Stream
	format wave.Format
	frames int64

	frame *frame.Frame // being handed out
	next  int          // its next frame to hand out
	done  int64        // frames handed out
	sum   hash.Hash
}

// newFLAC reads the stream information of the FLAC file of size bytes in src.
func newFLAC(src io.ReaderAt, size int64, name string) (*flacReader, error) {
	r, err := startFLAC(src, size, name)
	if err != nil {
		return nil, fmt.Errorf("%s: FLAC: %w", name, err)
	}
	return r, nil
}

func startFLAC(src io.ReaderAt, size int64, name string) (*flacReader, error) {
	stream, err := flac.New(io.NewSectionReader(src, 0, size))
	if err != nil {
		return nil, err
	}
	info := stream.Info
	r := &flacReader{name: name, stream: stream, frames: int64(info.NSamples), sum: md5.New()}
	if r.format, err = flacFormat(int(info.SampleRate), int(info.NChannels), int(info.BitsPerSample)); err != nil {
		return nil, err
	}
	if r.frames == 0 {
		r.frames, err = countFLAC(io.NewSectionReader(src, 0, size))
	}
	return r, err
}

// flacFormat returns the format of the WAV file that holds the same samples, or
// says which of the properties is not legal here.
func flacFormat(rate, channels, bits int) (wave.Format, error) {
	switch {
	case rate < wave.MinRate || rate > wave.MaxRate:
		return wave.Format{}, fmt.Errorf("sampling rate %d Hz; legal are %d to %d Hz", rate, wave.MinRate, wave.MaxRate)
	case channels < 1 || channels > wave.MaxChannels:
		return wave.Format{}, fmt.Errorf("%d channels; legal are 1 to %d", channels, wave.MaxChannels)
	case bits < 8 || bits > 32:
		return wave.Format{}, fmt.Errorf("%d bits a sample; legal are 8 to 32", bits)
	}
	return wave.Format{
		Rate: rate, Channels: channels, Encoding: wave.PCM,
		Bits: (bits + 7) / 8 * 8, ValidBits: bits,
	}, nil
}

// countFLAC counts the frames of a file that does not state its length.
func countFLAC(src io.Reader) (int64, error) {
	stream, err := flac.New(src)
	if err != nil {
		return 0, err
	}
	var count int64
	for {
		f, err := stream.ParseNext()
		if errors.Is(err, io.EOF) {
			return count, nil
		}
		if err != nil {
			return 0, fmt.Errorf("frame %d: %w", count, err)
		}
		count += int64(f.BlockSize)
	}
}

func (r *flacReader) Format() wave.Format { return r.format }
func (r *flacReader) Frames() int64       { return r.frames }
func (r *flacReader) Warnings() []string  { return nil }
func (r *flacReader) Close() error        { return nil }

// Read implements [Stream]. It panics when dst has not one slice a channel.
func (r *flacReader) Read(dst [][]float64) (int, error) {
	if len(dst) != r.format.Channels {
		panic(fmt.Sprintf("intake: %d slices for %d channels", len(dst), r.format.Channels))
	}
	n := 0
	for n < len(dst[0]) {
		if r.frame == nil {
			if err := r.advance(); err != nil {
				if errors.Is(err, io.EOF) && n > 0 {
					return n, nil
				}
				return n, err
			}
		}
		n += r.take(dst, n)
	}
	return n, nil
}

// advance decodes the next frame; io.EOF follows the last of a whole file.
func (r *flacReader) advance() error {
	f, err := r.stream.ParseNext()
	if errors.Is(err, io.EOF) {
		return r.end()
	}
	if err != nil {
		return fmt.Errorf("%s: FLAC: frame %d: %w", r.name, r.done, err)
	}
	if len(f.Subframes) != r.format.Channels || int(f.BitsPerSample) != 0 && int(f.BitsPerSample) != r.format.ValidBits {
		return fmt.Errorf("%s: FLAC: frame %d: the format changes to %d channels of %d bits; legal is one format throughout",
			r.name, r.done, len(f.Subframes), f.BitsPerSample)
	}
	f.Hash(r.sum)
	r.frame, r.next = f, 0
	return nil
}

// end checks that the file is whole.
func (r *flacReader) end() error {
	if r.done != r.frames {
		return fmt.Errorf("%s: FLAC: ends after %d frames of %d: truncated", r.name, r.done, r.frames)
	}
	want := r.stream.Info.MD5sum
	if want != [md5.Size]byte{} && !bytes.Equal(r.sum.Sum(nil), want[:]) {
		return fmt.Errorf("%s: FLAC: the samples do not have the MD5 that the file states: damaged", r.name)
	}
	return io.EOF
}

// take hands out what is left of the frame, up to what dst holds from at on.
func (r *flacReader) take(dst [][]float64, at int) int {
	n := min(len(dst[0])-at, int(r.frame.BlockSize)-r.next)
	unit := 1 / float64(int64(1)<<(r.format.ValidBits-1))
	for c, subframe := range r.frame.Subframes {
		out := dst[c][at : at+n]
		for i, v := range subframe.Samples[r.next : r.next+n] {
			out[i] = float64(v) * unit
		}
	}
	r.next += n
	r.done += int64(n)
	if r.next == int(r.frame.BlockSize) {
		r.frame = nil
	}
	return n
}
