// The players: all tracks of an item start at one instant of one clock and run
// in step; only their gains change, so that switching has no gap.

const FADE = 0.012; // seconds of a crossfade
const LEAD = 0.06; // seconds between deciding to start and starting

const arriving = new Map(); // clip index -> what to do with its tracks

// quietcrossClip is called by the script of a clip.
function quietcrossClip(index, tracks) {
  const arrived = arriving.get(index);
  if (arrived) arrived(tracks);
}

function loadClip(index, address) {
  return new Promise((resolve, reject) => {
    arriving.set(index, resolve);
    const script = document.createElement("script");
    script.src = address;
    script.onerror = () => reject(new Error("the sound file " + address + " beside this page cannot be read"));
    script.onload = () => script.remove();
    document.head.append(script);
  });
}

// decodeTrack turns the base64 16-bit samples of a track into planar floats.
function decodeTrack(track, channels) {
  const bytes = atob(track.pcm);
  const frames = bytes.length / (2 * channels);
  const planes = Array.from({length: channels}, () => new Float32Array(frames));
  for (let i = 0, at = 0; i < frames; i++) {
    for (let c = 0; c < channels; c++, at += 2) {
      const count = bytes.charCodeAt(at) | (bytes.charCodeAt(at + 1) << 8);
      planes[c][i] = ((count << 16) >> 16) * track.scale;
    }
  }
  return planes;
}

// mixTrack makes an output from its parts: the reference and the residual, each
// with its gain.
function mixTrack(mix, decoded) {
  const [first, second] = mix.map(part => decoded[part.track]);
  return first.map((plane, c) => plane.map((v, i) => v * mix[0].gain + second[c][i] * mix[1].gain));
}

// decodeAll decodes the tracks of a clip; mixes come after what they are made of.
function decodeAll(tracks, channels) {
  const decoded = tracks.map(track => track.pcm === undefined ? null : decodeTrack(track, channels));
  return tracks.map((track, i) => decoded[i] || mixTrack(track.mix, decoded));
}

function toBuffer(context, planes, rate) {
  const buffer = context.createBuffer(planes.length, Math.max(planes[0].length, 1), rate);
  planes.forEach((plane, c) => buffer.copyToChannel(plane, c));
  return buffer;
}

// startGraph starts all buffers at one time of the context's clock from one
// offset, each behind its own gain, and returns the nodes. levels are the gains
// to begin with; loop is null or [start, end] in seconds.
function startGraph(context, buffers, levels, when, offset, loop, destination) {
  const out = context.createGain();
  out.gain.setValueAtTime(0, when);
  out.gain.linearRampToValueAtTime(1, when + FADE);
  out.connect(destination);
  const gains = [];
  const sources = buffers.map((buffer, i) => {
    const gain = context.createGain();
    gain.gain.value = levels[i];
    gain.connect(out);
    gains.push(gain);
    const source = context.createBufferSource();
    source.buffer = buffer;
    if (loop) {
      source.loop = true;
      [source.loopStart, source.loopEnd] = loop;
    }
    source.connect(gain);
    return source;
  });
  sources.forEach(source => source.start(when, offset));
  return {out, gains, sources};
}

// fadeTo moves a gain in a straight line, which keeps the level when two tracks
// that are nearly equal are crossfaded.
function fadeTo(gain, value, now) {
  gain.gain.cancelScheduledValues(now);
  gain.gain.setValueAtTime(gain.gain.value, now);
  gain.gain.linearRampToValueAtTime(value, now + FADE);
}

const contexts = new Map(); // rate asked for -> {context, note}
let deviceRate = 0;

// contextFor returns a context at the item's rate, or at the device's when the
// browser refuses that rate, and what there is to say about it.
function contextFor(rate) {
  if (contexts.has(rate)) return contexts.get(rate);
  if (!deviceRate) {
    const probe = new AudioContext();
    deviceRate = probe.sampleRate;
    probe.close();
  }
  let context;
  try {
    context = new AudioContext({sampleRate: rate});
  } catch {
    context = new AudioContext();
  }
  let note = "";
  if (context.sampleRate !== rate) {
    note = "This browser cannot play " + rate + " Hz: it resamples to " + context.sampleRate + " Hz.";
  } else if (deviceRate !== rate) {
    note = "The sound device runs at " + deviceRate + " Hz: the browser resamples from " + rate + " Hz.";
  }
  const entry = {context, note};
  contexts.set(rate, entry);
  return entry;
}

class Player {
  constructor(index, item) {
    this.index = index;
    this.item = item;
    this.duration = item.frames / item.rate;
    this.track = 0;
    this.volume = -20;
    this.trueLevel = false;
    this.looping = false;
    this.stretch = null; // [start, end] chosen to loop, s
    this.offset = 0; // where playing started or was paused, s
    this.graph = null;
    this.changed = () => {};
  }

  get playing() { return this.graph !== null; }

  get loop() {
    if (!this.looping) return null;
    return this.stretch || [0, this.duration];
  }

  // levels are the gains of all tracks: the chosen one and silence.
  levels() {
    return this.item.tracks.map((track, i) => {
      if (i !== this.track) return 0;
      return this.trueLevel ? Math.pow(10, -track.makeUp / 20) : 1;
    });
  }

  async load() {
    if (this.buffers) return;
    this.loading = this.loading || this.fetch();
    await this.loading;
  }

  async fetch() {
    try {
      const tracks = await loadClip(this.index, this.item.clip);
      const {context, note} = contextFor(this.item.rate);
      this.context = context;
      this.note = note;
      this.master = context.createGain();
      this.master.gain.value = Math.pow(10, this.volume / 20);
      this.master.connect(context.destination);
      this.buffers = decodeAll(tracks, this.item.channels).map(planes => toBuffer(context, planes, this.item.rate));
    } finally {
      this.loading = null;
    }
  }

  // unload gives the memory of the sound back; playing loads it again.
  unload() {
    this.pause();
    if (this.master) this.master.disconnect();
    this.buffers = null;
    this.changed();
  }

  async play() {
    await this.load();
    await this.context.resume();
    if (!this.playing) this.start(this.offset);
  }

  start(offset) {
    const loop = this.loop;
    if (loop && (offset < loop[0] || offset >= loop[1])) offset = loop[0];
    if (offset >= this.duration) offset = 0;
    const when = this.context.currentTime + LEAD;
    const graph = startGraph(this.context, this.buffers, this.levels(), when, offset, loop, this.master);
    graph.sources[0].onended = () => {
      if (this.graph === graph) this.finish(0);
    };
    this.graph = graph;
    this.offset = offset;
    this.startedAt = when;
    this.seam = loop ? when + loop[1] - offset : Infinity;
    this.changed();
  }

  finish(offset) {
    const {graph, context} = this;
    this.graph = null;
    this.offset = offset;
    graph.sources[0].onended = null;
    fadeTo(graph.out, 0, context.currentTime);
    graph.sources.forEach(source => source.stop(context.currentTime + FADE));
    setTimeout(() => graph.out.disconnect(), 1000 * FADE + 200);
    this.changed();
  }

  pause() {
    if (this.playing) this.finish(this.position());
  }

  // seek moves to a position, playing on if it was.
  seek(position) {
    position = Math.min(Math.max(position, 0), this.duration);
    if (!this.playing) {
      this.offset = position;
      this.changed();
      return;
    }
    this.finish(position);
    this.start(position);
  }

  position() {
    if (!this.playing) return this.offset;
    const run = Math.max(this.context.currentTime - this.startedAt, 0);
    const loop = this.loop;
    if (loop) return loop[0] + (this.offset - loop[0] + run) % (loop[1] - loop[0]);
    return Math.min(this.offset + run, this.duration);
  }

  select(track) {
    if (track < 0 || track >= this.item.tracks.length) return;
    this.track = track;
    this.applyLevels();
  }

  applyLevels() {
    if (this.playing) {
      const now = this.context.currentTime;
      this.levels().forEach((level, i) => fadeTo(this.graph.gains[i], level, now));
    }
    this.changed();
  }

  setVolume(decibels) {
    this.volume = decibels;
    if (this.master) fadeTo(this.master, Math.pow(10, decibels / 20), this.context.currentTime);
  }

  // setLoop takes the stretch to loop, null for all, and whether to loop.
  setLoop(stretch, looping) {
    const position = this.position();
    const was = this.playing;
    if (was) this.finish(position);
    if (stretch && stretch[1] - stretch[0] < 0.05) stretch = null;
    this.stretch = stretch;
    this.looping = looping;
    if (was) this.start(position);
    this.changed();
  }

  // tick dips the sound at the seam of a loop, which would click otherwise.
  tick() {
    if (!this.playing || !this.loop) return;
    const [start, end] = this.loop;
    while (this.seam < this.context.currentTime + 0.5) {
      if (this.seam - FADE > this.context.currentTime) {
        const gain = this.graph.out.gain;
        gain.setValueAtTime(1, this.seam - FADE);
        gain.linearRampToValueAtTime(0, this.seam);
        gain.linearRampToValueAtTime(1, this.seam + FADE);
      }
      this.seam += end - start;
    }
  }
}
