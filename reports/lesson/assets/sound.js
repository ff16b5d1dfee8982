// The players: all tracks of a deck start at one instant of one clock and run in
// step; only their gains change, in straight lines that add up to one, so that a
// change has neither gap nor click.

const FADE = 0.012; // seconds of a change
const LEAD = 0.05; // seconds between deciding to start and starting
const RATE = 48000;

// decode turns the base64 16-bit samples of a track into an audio buffer.
function decode(context, track) {
  const bytes = atob(track.pcm);
  const buffer = context.createBuffer(1, bytes.length / 2, RATE);
  const plane = buffer.getChannelData(0);
  for (let i = 0; i < plane.length; i++) {
    const count = bytes.charCodeAt(2 * i) | (bytes.charCodeAt(2 * i + 1) << 8);
    plane[i] = ((count << 16) >> 16) * track.scale;
  }
  return buffer;
}

// Deck plays one of several tracks, in a loop.
class Deck {
  constructor(context, tracks, destination) {
    this.context = context;
    this.buffers = tracks.map(track => decode(context, track));
    this.destination = destination;
    this.track = 0;
    this.graph = null;
  }

  start(when) {
    const {context} = this;
    const out = context.createGain();
    out.gain.setValueAtTime(0, when);
    out.gain.linearRampToValueAtTime(1, when + FADE);
    out.connect(this.destination);
    const gains = [], sources = [];
    this.buffers.forEach((buffer, i) => {
      const gain = context.createGain();
      gain.gain.value = i === this.track ? 1 : 0;
      gain.connect(out);
      const source = context.createBufferSource();
      source.buffer = buffer;
      source.loop = true;
      source.connect(gain);
      source.start(when);
      gains.push(gain);
      sources.push(source);
    });
    this.graph = {out, gains, sources};
  }

  stop() {
    if (!this.graph) return;
    const {out, sources} = this.graph, now = this.context.currentTime;
    fade(out.gain, 0, now);
    sources.forEach(source => source.stop(now + FADE));
    this.graph = null;
  }

  choose(track) {
    this.track = track;
    if (!this.graph) return;
    const now = this.context.currentTime;
    this.graph.gains.forEach((gain, i) => fade(gain.gain, i === track ? 1 : 0, now));
  }
}

// fade moves a gain to a value in a straight line from where it is.
function fade(gain, value, now) {
  gain.cancelScheduledValues(now);
  gain.setValueAtTime(gain.value, now);
  gain.linearRampToValueAtTime(value, now + FADE);
}

// soundBlock reads a block of sounds out of the page.
function soundBlock(index) {
  return JSON.parse(document.getElementById("sound-" + index).textContent);
}
