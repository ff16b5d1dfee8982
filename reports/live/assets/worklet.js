// The audio thread: it plays blocks in the order in which they come, and says how far
// it is, and how late it follows what was moved. What comes in from a microphone or a line
// it hands on in blocks.

const HEARD = 256; // frames

// planes divides a buffer into its channels, which lie in it one behind the other.
function planes(buffer, channels) {
  const frames = buffer.byteLength / 4 / channels;
  return Array.from({length: channels}, (_, c) => new Float32Array(buffer, 4 * frames * c, frames));
}

// blend goes over from one sound to another, in the other's place.
function blend(from, to) {
  to.forEach((channel, c) => channel.forEach((v, i) => { channel[i] += (1 - (i + 1) / channel.length) * (from[c][i] - v); }));
}

// bridge has a sound begin where another ended.
function bridge(end, sound) {
  sound.forEach((channel, c) => {
    const step = end[c] - channel[0];
    channel.forEach((v, i) => { channel[i] += (1 - i / channel.length) * step; });
  });
}

class Outlet extends AudioWorkletProcessor {
  constructor() {
    super();
    this.blocks = [];
    this.next = 0; // index of the next block to come
    this.revision = 0; // the last of which a block was taken
    this.before = null; // the block played before
    this.at = 0; // frame of the first block that is next
    this.played = 0;
    this.missed = 0; // gaps
    this.dry = false; // in one
    this.heard = [];
    this.source = null;
    this.port.onmessage = event => {
      this.source = event.data.port;
      this.source.onmessage = ({data}) => this.take({...data, joins: data.revision, sound: planes(data.heard, data.channels)});
    };
  }

  // take puts a block behind the others, or in the place of the one of the same index unless
  // that is being played. The first one of a revision goes over from what it replaces.
  take(block) {
    const at = this.blocks.findIndex(b => b.index === block.index);
    if (block.index === this.next) {
      this.blocks.push(block);
      this.next++;
    } else if (at > 0 || at === 0 && !this.at) {
      const before = this.blocks[at];
      if (block.revision !== this.revision) {
        blend(before.sound, block.sound);
        block.joins = before.joins;
      }
      block.moved = block.moved || before.moved;
      this.blocks[at] = block;
    } else return;
    this.revision = block.revision;
  }

  // begin is what is done when a block begins. One that was not revised when those before it
  // were, for it came too late, does not join them.
  begin({moved, joins, sound}) {
    if (moved) this.port.postMessage({late: Date.now() - moved});
    if (this.before && joins !== this.before.revision) bridge(this.before.sound.map(channel => channel[channel.length - 1]), sound);
  }

  hear(input) {
    if (!this.heard.length) this.heard = input.map(() => []);
    this.heard.forEach((list, c) => list.push(...(input[c] || input[0])));
    if (this.heard[0].length < HEARD) return;
    const blocks = this.heard.map(list => new Float32Array(list).buffer);
    this.source.postMessage({heard: blocks}, blocks);
    this.heard = [];
  }

  process([input], [output]) {
    if (!this.source) return true;
    if (input.length) this.hear(input);
    const frames = output[0].length;
    let done = 0, consumed = false;
    while (done < frames && this.blocks.length) {
      if (!this.at) this.begin(this.blocks[0]);
      const {sound} = this.blocks[0];
      const n = Math.min(frames - done, sound[0].length - this.at);
      output.forEach((channel, c) => channel.set((sound[c] || sound[0]).subarray(this.at, this.at + n), done));
      done += n;
      this.at += n;
      if (this.at === sound[0].length) {
        this.before = this.blocks.shift();
        this.at = 0;
        consumed = true;
      }
    }
    this.played += done;
    // Nothing has been missed before the first blocks have come.
    const dry = done < frames && this.played > 0;
    const missed = dry && !this.dry;
    this.dry = dry;
    if (missed) {
      this.missed++;
      this.port.postMessage({missed: this.missed});
    }
    if (consumed || missed) this.source.postMessage({played: this.played, missed, at: Date.now()});
    return true;
  }
}

registerProcessor("outlet", Outlet);
