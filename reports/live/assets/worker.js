// A worker of the page: it runs the engine and does what it is asked, one call after
// the other. A player's worker is also given a port to the audio thread, and keeps it
// supplied a little ahead of what is heard; one to the worker that looks at the sound, which
// is told each block that was made; and one by which laws come from the worker that sketches.

const BLOCK = 256; // frames
const LEISURE = {wait: 150, work: 0.005, most: 100}; // ms, s, times: of what is done while nothing plays

let feed = null; // the port to the audio thread, the queue before it, and when that was last told of, ms since 1970
let watcher = null; // the port to the worker that looks at the sound
let laws = null; // the port by which a worker that sketches gives its laws to the player
let instance = null; // of the compiled engine
let moved = 0; // when what the next block is the first to follow was moved, ms since 1970; 0: nothing
let fed = -Infinity; // when the audio thread was last heard of, ms

// ask calls the engine. Its result is [value, ...buffers].
function ask(name, argument, buffers = []) {
  return read(engine(name, JSON.stringify(argument ?? null), ...buffers));
}

// The engine works at these in slices, and other calls are answered in between.
const PATIENT = ["predict", "portrait"];

function wait(name, argument, buffers) {
  return new Promise(done => engine(name, JSON.stringify(argument ?? null), ...buffers, done)).then(read);
}

function read(result) {
  if (typeof result === "string") throw new Error(result);
  result[0] = JSON.parse(result[0]);
  return result;
}

// send makes the block of an index and sends it to the audio thread, and what passed through
// the stage to the worker that looks.
function send(index) {
  const {passed, heard, channels} = play();
  feed.port.postMessage({index, revision, heard, channels, moved}, [heard]);
  moved = 0;
  watcher.postMessage(passed, [passed]);
}

// revise changes what is played, and has what is ahead made again.
let revision = 0;

function revise(change) {
  if (!feed) return change();
  let result;
  const back = frames => {
    const [went] = ask("rewind", frames);
    if (went) revision++;
    return went;
  };
  feed.queue.revise((Date.now() - feed.told) * feed.rate / 1000, back, () => { result = change(); });
  return result;
}

// play has the engine make a block. Both buffers are copies of what lies in its memory:
// four numbers, the last of them how many channels there are, and then samples, of which those
// that are heard come last and have 32 bits.
function play() {
  const {play, mem} = instance.exports;
  const place = play(BLOCK);
  if (!place) throw new Error("There is nothing to play.");
  const [length, from] = new Uint32Array(mem.buffer, place, 2);
  const all = new Float64Array(mem.buffer, from, length);
  const channels = all[3], heard = length - channels * BLOCK / 2;
  return {passed: all.slice(0, heard).buffer, heard: all.slice(heard).buffer, channels};
}

// A law goes from the worker that sketches it straight to the player: by way of the page it
// would wait for what is drawn there.
const give = (law, at) => laws.postMessage({law, moved: at});

function taken({data}) {
  if (performance.now() - fed < LEISURE.wait) moved = moved || data.moved;
  revise(() => ask("law", null, [data.law]));
}

// What is to be done between blocks gets a part of the time that each lasts, where
// enough is ahead; while nothing plays it is done at leisure.
const WORK_SHARE = 0.7;
let working = false;

function work(seconds) {
  if (working) [working] = ask("work", seconds);
}

// begin has the work done until it is over; what plays takes it on.
function begin() {
  working = true;
  let idled = 0;
  const on = () => {
    if (!working) return;
    if (performance.now() - fed > LEISURE.wait) {
      work(LEISURE.work);
      if (idled++ > LEISURE.most) return;
    }
    setTimeout(on, LEISURE.wait / 10);
  };
  on();
}

function connect({feed: port, rate, lengths}) {
  feed = {port, rate, queue: new Queue(BLOCK, lengths, send), told: Date.now()};
  port.onmessage = event => {
    if (event.data.heard) {
      ask("hear", null, event.data.heard.map(b => new Uint8Array(b)));
      return;
    }
    feed.told = event.data.at;
    const idle = feed.queue.heard(event.data, (Date.now() - event.data.at) * rate / 1000);
    fed = performance.now();
    if (idle) work(WORK_SHARE * BLOCK / rate);
  };
  feed.queue.supply();
}

function answer({name, argument, buffers}) {
  if (PATIENT.includes(name)) return wait(name, argument, buffers);
  const call = () => ask(name, argument, buffers);
  return name === "controls" ? revise(call) : call();
}

// The progress of a long call is told as it runs.
function progress(share) { postMessage({progress: share}); }

onmessage = async event => {
  const message = event.data;
  try {
    if (message.module) {
      const go = new Go();
      instance = await WebAssembly.instantiate(message.module, go.importObject);
      go.run(instance);
      postMessage({ready: true});
      return;
    }
    if (message.feed) {
      connect(message);
      return;
    }
    if (message.watcher) {
      watcher = message.watcher;
      return;
    }
    if (message.watched) {
      message.watched.onmessage = ({data}) => ask("note", null, [new Uint8Array(data)]);
      return;
    }
    if (message.laws) {
      laws = message.laws;
      if (message.plays) laws.onmessage = taken;
      return;
    }
    if (message.close) {
      if (feed) feed.queue.open = false;
      return;
    }
    const [value, ...buffers] = await answer(message);
    if (message.name === "follow") begin();
    if (message.moved) give(buffers[0], message.moved);
    postMessage({id: message.id, value, buffers, ahead: feed ? feed.queue.filled() : 0}, buffers.map(b => b.buffer));
  } catch (error) {
    postMessage({id: message.id, error: error.message});
  }
};
