// A worker of the page: it runs the engine and does what it is asked, one call after
// the other. A player's worker is also given a port to the audio thread, and keeps it
// supplied a little ahead of what is heard.

const BLOCK = 256; // frames
const EASE = 0.9997; // of what is kept ahead, each block

let feed = null; // {port, ahead, sent, played, channels}

// ask calls the engine. Its result is [value, ...buffers].
function ask(name, argument, buffers = []) {
  return read(engine(name, JSON.stringify(argument ?? null), ...buffers));
}

// The engine works at these in slices, and other calls are answered in between.
const PATIENT = ["predict"];

function wait(name, argument, buffers) {
  return new Promise(done => engine(name, JSON.stringify(argument ?? null), ...buffers, done)).then(read);
}

function read(result) {
  if (typeof result === "string") throw new Error(result);
  result[0] = JSON.parse(result[0]);
  return result;
}

// supply sends blocks until the audio thread has enough ahead.
function supply() {
  while (feed.open && feed.sent - feed.played < feed.ahead) {
    const [, ...channels] = ask("play", BLOCK);
    feed.port.postMessage(channels.map(c => c.buffer), channels.map(c => c.buffer));
    feed.sent += BLOCK;
  }
}

// What is to be done between blocks gets a part of the time that each lasts, where
// enough is ahead; while nothing plays it is done at leisure.
const WORK_SHARE = 0.7;
const LEISURE = {wait: 150, work: 0.005, most: 100}; // ms, s, times
let working = false, fed = -Infinity;

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

function connect(port, ahead) {
  feed = {port, ahead, sent: 0, played: 0, open: true};
  port.onmessage = event => {
    if (event.data.heard) {
      ask("hear", null, event.data.heard.map(b => new Uint8Array(b)));
      return;
    }
    feed.played = event.data.played;
    // What was missed is made up for by more ahead, which is given back slowly.
    feed.ahead = event.data.missed ? Math.min(feed.ahead * 1.5, feed.limit) : Math.max(feed.ahead * EASE, feed.least);
    supply();
    fed = performance.now();
    if (!event.data.missed && feed.sent - feed.played > feed.ahead * 0.8) work(WORK_SHARE * BLOCK / feed.rate);
  };
}

// The progress of a long call is told as it runs.
function progress(share) { postMessage({progress: share}); }

onmessage = async event => {
  const message = event.data;
  try {
    if (message.module) {
      const go = new Go();
      go.run(await WebAssembly.instantiate(message.module, go.importObject));
      postMessage({ready: true});
      return;
    }
    if (message.feed) {
      connect(message.feed, message.ahead);
      feed.limit = message.limit;
      feed.least = message.ahead;
      feed.rate = message.rate;
      supply();
      return;
    }
    if (message.close) {
      if (feed) feed.open = false;
      return;
    }
    if (message.name === "view" && feed) message.argument.Late += feed.sent - feed.played;
    const call = PATIENT.includes(message.name) ? wait : ask;
    const [value, ...buffers] = await call(message.name, message.argument, message.buffers);
    if (message.name === "follow") begin();
    postMessage({id: message.id, value, buffers, ahead: feed ? feed.sent - feed.played : 0}, buffers.map(b => b.buffer));
  } catch (error) {
    postMessage({id: message.id, error: error.message});
  }
};
