// The queue between the worker that plays and the audio thread. It is as short as it can
// be, for a change is heard when what is queued has been played: each gap makes it half as
// long again, up to a limit, and that is given back within minutes, so that one bad moment
// does not slow the page for good, and a machine that is always busy does not have a gap
// every few seconds. It knows no clock and no audio, so that it can be tried with any.

const EASE = 0.99997; // of the length, each block: half in two minutes at 256 frames and 48 kHz
const FULL = 0.8; // of the length

class Queue {
  // send makes and sends a block of so many frames; least and limit are lengths in frames.
  constructor(block, least, limit, send) {
    Object.assign(this, {block, least, limit, send, ahead: least, sent: 0, played: 0, open: true});
  }

  // filled is how many frames were sent and have not been played, as far as is known.
  filled() { return this.sent - this.played; }

  // supply sends blocks until enough is ahead.
  supply() {
    while (this.open && this.filled() < this.ahead) {
      this.send();
      this.sent += this.block;
    }
  }

  // heard takes what the audio thread told so many frames ago, and supplies it. It returns
  // whether the queue is full.
  heard({played, missed}, ago) {
    this.played = played;
    this.ahead = missed ? Math.min(this.ahead * 1.5, this.limit) : Math.max(this.ahead * EASE, this.least);
    this.supply();
    return !missed && this.filled() - ago >= FULL * this.ahead;
  }
}
