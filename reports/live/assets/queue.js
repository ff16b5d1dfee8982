// The queue between the worker that plays and the audio thread. When something changes, what
// is queued and not about to be heard is made again with it: a little at once, the rest little
// by little, and what was queued before stays until then.
//
// The queue is as short as it can be, for not all can be made again. It begins long, while all
// else begins too, and is then cut to the least; from there on each gap makes it half as long
// again, up to a limit, and that is given back within minutes, so that one bad moment does
// not slow the page for good, and a machine that is always busy does not have a gap every few
// seconds. Several gaps of one bad moment count as one. It knows no clock and no audio, so
// that it can be tried with any.

const EASE = 0.99997; // of the length, each block: half in two minutes at 256 frames and 48 kHz
const FULL = 0.8; // of the length
const AT_A_TIME = 4; // blocks made for one that was played

class Queue {
  // send makes and sends a block of so many frames, given its index. The lengths are frames:
  // opening until so many were played, least and limit; soon, of which none is made again, and
  // urgent, which then are made at once.
  constructor(block, lengths, send) {
    Object.assign(this, {block, ...lengths, send, ahead: lengths.opening, sent: 0, played: 0, learned: 0, open: true});
  }

  // filled is how many frames were sent and have not been played, as far as is known.
  filled() { return this.sent - this.played; }

  // supply sends blocks until enough is ahead, or so many.
  supply(enough = this.ahead, most = Infinity) {
    for (; this.open && this.filled() < enough && most > 0; most--) {
      this.send(this.sent / this.block);
      this.sent += this.block;
    }
  }

  // revise makes anew what is ahead, so many frames after the audio thread was heard of. back
  // goes back by up to so many frames and returns by how many; change changes what is made.
  revise(ago, back, change) {
    const first = Math.ceil((this.played + ago + this.soon) / this.block);
    const went = back(Math.max(0, this.sent - first * this.block));
    this.sent -= went;
    change();
    this.supply(Math.min(ago + this.urgent, this.ahead));
  }

  // heard takes what the audio thread told so many frames ago, and supplies it. It returns
  // whether the queue is full.
  heard({played, missed}, ago) {
    this.ahead = this.length(played, missed);
    this.played = played;
    this.supply(this.ahead, AT_A_TIME);
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
