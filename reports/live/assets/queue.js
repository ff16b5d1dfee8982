// The queue between the worker that plays and the audio thread. It is as short as it can
// be, for a change is heard when what is queued and cannot be made again has been played, and
// each change makes the rest again. It begins long, while all
// else begins too, and is then cut to the least; from there on each gap makes it half as long
// again, up to a limit, and that is given back within minutes, so that one bad moment does
// not slow the page for good, and a machine that is always busy does not have a gap every few
// seconds. Several gaps of one bad moment count as one. It knows no clock and no audio, so
// that it can be tried with any.

const EASE = 0.99997; // of the length, each block: half in two minutes at 256 frames and 48 kHz
const FULL = 0.8; // of the length

class Queue {
  // send makes and sends a block of so many frames, given its index. The lengths are frames: opening until so
  // many were played, least and limit.
  constructor(block, lengths, send) {
    Object.assign(this, {block, ...lengths, send, ahead: lengths.opening, sent: 0, played: 0, learned: 0, open: true});
  }

  // filled is how many frames were sent and have not been played, as far as is known.
  filled() { return this.sent - this.played; }

  // supply sends blocks until enough is ahead.
  supply() {
    while (this.open && this.filled() < this.ahead) {
      this.send(this.sent / this.block);
      this.sent += this.block;
    }
  }

  // unheard is how many frames lie in blocks of which none is heard for so many frames from
  // what was last told on.
  unheard(frames) {
    const first = Math.ceil((this.played + frames) / this.block);
    return Math.max(0, this.sent - first * this.block);
  }

  // heard takes what the audio thread told so many frames ago, and supplies it. It returns
  // whether the queue is full.
  heard({played, missed}, ago) {
    this.ahead = this.length(played, missed);
    this.played = played;
    this.supply();
    return !missed && this.filled() - ago >= FULL * this.ahead;
  }

  // length is how much is to be ahead from so many frames on.
  length(played, missed) {
    if (played < this.until) return this.opening;
    if (this.played < this.until) return this.least;
    if (!missed || played < this.learned + this.limit) return Math.max(this.ahead * EASE, this.least);
    this.learned = played;
    return Math.min(this.ahead * 1.5, this.limit);
  }
}
