// The engine in its workers, and what plays.

// parsed resolves when the whole page is there, the engine included.
const parsed = () => document.readyState === "loading" ? new Promise(done => addEventListener("DOMContentLoaded", done)) : Promise.resolve();

// unpack returns the compiled engine, which the page holds packed in base64. It is
// compiled as it is unpacked.
async function unpack() {
  await parsed();
  const holder = document.getElementById("engine");
  const text = holder.textContent.trim();
  holder.remove();
  const stream = new Blob([bytesOf(text)]).stream().pipeThrough(new DecompressionStream("gzip"));
  return WebAssembly.compileStreaming(new Response(stream, {headers: {"Content-Type": "application/wasm"}}));
}

// bytesOf decodes base64.
function bytesOf(base64) {
  if (Uint8Array.fromBase64) return Uint8Array.fromBase64(base64);
  const text = atob(base64), bytes = new Uint8Array(text.length);
  for (let i = 0; i < bytes.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

// An Engine is one worker, given the compiled engine or the promise of it; calls wait
// until it is ready. A page from disk may not load scripts into it, so the support script
// stands in the worker's own text.
class Engine {
  constructor(module) {
    const text = ["support", "worker"].map(id => document.getElementById(id).textContent).join("\n");
    this.worker = new Worker(URL.createObjectURL(new Blob([text], {type: "text/javascript"})));
    this.calls = new Map();
    this.next = 0;
    this.ahead = 0;
    this.told = () => {};
    this.running = false;
    this.ready = new Promise((resolve, reject) => {
      this.worker.onmessage = event => {
        if (!event.data.ready) return this.answer(event.data);
        this.running = true;
        resolve();
      };
      Promise.resolve(module).then(compiled => this.worker.postMessage({module: compiled}), reject);
    });
  }

  answer(message) {
    if (message.progress !== undefined) return this.told(message.progress);
    const call = this.calls.get(message.id);
    if (!call) return;
    this.calls.delete(message.id);
    if (message.error !== undefined) return call.reject(new Error(message.error));
    this.ahead = message.ahead;
    call.resolve([message.value, ...message.buffers]);
  }

  // call returns a promise of [value, ...buffers]. Where moved is given, the first buffer is
  // a law that also goes straight to the player, of what was moved then.
  call(name, argument, buffers = [], moved = 0) {
    const id = this.next++, message = {id, name, argument, buffers, moved};
    if (this.running) this.worker.postMessage(message);
    else this.ready.then(() => this.worker.postMessage(message));
    return new Promise((resolve, reject) => this.calls.set(id, {resolve, reject}));
  }

  end() { this.worker.terminate(); }
}

// decoded reads a sound file by the engine, or where that refuses it by the browser, and
// then says what the program said.
async function decoded(engine, name, data) {
  try {
    const [found, ...audio] = await engine.call("decode", name, [new Uint8Array(data)]);
    return {rate: found.rate, audio: audio.map(a => a.buffer), digested: true, notes: [found.format].concat(found.warnings || []).join("; ") + "."};
  } catch (refusal) {
    return decodedOtherwise(data, refusal);
  }
}

const BROWSER_RATE = 48000;

async function decodedOtherwise(data, refusal) {
  let found;
  try {
    found = await new OfflineAudioContext(1, 1, BROWSER_RATE).decodeAudioData(data);
  } catch {
    throw refusal;
  }
  const audio = [];
  for (let c = 0; c < Math.min(found.numberOfChannels, 2); c++) audio.push(found.getChannelData(c).slice().buffer);
  return {foreign: true, rate: found.sampleRate, audio, notes: refusal.message + ". Decoded by the browser to 48 kHz: the command line does not read it."};
}

// How much sound is made before it is heard, s: in the first seconds, when a browser is still
// translating code; then at least; and where there are gaps at most. When something changes,
// what is heard soon stays, and what is urgent is made again at once.
const AHEAD = {opening: 0.15, until: 2, least: 0.12, limit: 0.25, soon: 0.012, urgent: 0.04};
const AHEAD_OF_INPUT = {...AHEAD, least: 0.045}; // which cannot be made again

const RUN_IN = {times: 10, blocks: 10};
const LATE = 10; // moves

// A Deck plays what a player engine makes, while another engine, the watcher, looks at it,
// and a third, the sketcher, gives it laws while the bias moves.
class Deck {
  constructor(player, watcher, sketcher) {
    this.player = player;
    this.watcher = watcher;
    const seen = new MessageChannel(), laws = new MessageChannel();
    player.worker.postMessage({watcher: seen.port1}, [seen.port1]);
    watcher.worker.postMessage({watched: seen.port2}, [seen.port2]);
    player.worker.postMessage({laws: laws.port1, plays: true}, [laws.port1]);
    sketcher.worker.postMessage({laws: laws.port2}, [laws.port2]);
    this.context = null;
    this.rate = 0;
    this.input = false;
    this.stream = this.inlet = null; // what is let in
    this.missed = 0; // gaps
    this.late = []; // how long after a move the sound followed it, ms, of the last LATE moves
    this.volume = 0;
  }

  // open makes the way to the loudspeaker at a sampling rate, for what comes in or for a
  // recording.
  async open(rate, input = false) {
    if (this.context && this.rate === rate && this.input === input) {
      this.context.resume();
      return;
    }
    await this.close();
    Object.assign(this, {rate, input});
    this.context = new AudioContext({sampleRate: rate, latencyHint: "interactive"});
    const script = document.getElementById("worklet").textContent;
    await this.context.audioWorklet.addModule("data:text/javascript;base64," + btoa(script));
    this.node = new AudioWorkletNode(this.context, "outlet", {numberOfInputs: 1, outputChannelCount: [2]});
    this.node.port.onmessage = ({data}) => {
      if (data.missed) this.missed = data.missed;
      if (data.late) this.late = [...this.late.slice(1 - LATE), data.late + 1000 * (this.context.outputLatency || 0)];
    };
    this.gain = new GainNode(this.context, {gain: this.volume});
    this.node.connect(this.gain).connect(this.context.destination);
    const channel = new MessageChannel();
    const lengths = Object.fromEntries(Object.entries(input ? AHEAD_OF_INPUT : AHEAD).map(([name, seconds]) => [name, Math.round(seconds * rate)]));
    this.player.worker.postMessage({feed: channel.port2, lengths, rate}, [channel.port2]);
    await this.player.call("tell"); // the queue is full by then
    this.node.port.postMessage({port: channel.port1}, [channel.port1]);
    this.context.resume();
  }

  // runIn has the player do, unheard, what it will do: a browser translates code well only
  // when it has been used. law returns the one that it has or is to have.
  async runIn(law) {
    for (let i = 0; i < RUN_IN.times; i++) {
      await this.player.call("rehearse", RUN_IN.blocks);
      await this.player.call("law", null, [law()]);
      await this.player.call("tell");
    }
  }

  // look returns what the figures show of the sound that is heard now.
  async look(asked) {
    const [told] = await this.player.call("tell");
    const latency = this.context ? Math.round((this.context.outputLatency || 0) * this.rate) : 0;
    const [seen] = await this.watcher.call("view", {...asked, told, late: this.player.ahead + latency});
    return seen;
  }

  // listen lets a microphone or a line in, with nothing of the browser's between.
  async listen() {
    if (!navigator.mediaDevices) throw new Error("This browser lets no page from disk hear a microphone.");
    const plain = {echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 2};
    this.stream = await navigator.mediaDevices.getUserMedia({audio: plain});
  }

  // deafen gives the microphone back.
  deafen() {
    if (!this.stream) return;
    this.stream.getTracks().forEach(track => track.stop());
    if (this.inlet) this.inlet.disconnect();
    this.stream = this.inlet = null;
  }

  // hear connects what was let in.
  hear() {
    if (!this.stream || this.inlet) return;
    this.inlet = this.context.createMediaStreamSource(this.stream);
    this.inlet.connect(this.node);
  }

  async close() {
    if (!this.context) return;
    this.player.worker.postMessage({close: true});
    await this.context.close();
    this.context = null;
  }

  // setVolume takes a gain over within 20 ms.
  setVolume(gain) {
    this.volume = gain;
    if (this.context) this.gain.gain.setTargetAtTime(gain, this.context.currentTime, 0.007);
  }
}
