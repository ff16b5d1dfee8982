// A worker and an audio thread on a clock of their own: what the worker does lasts as long
// as the test says, messages are taken in turn, the audio thread takes 128 frames at a
// time. It follows queue.js, and prints what was heard of it as JSON.

const RATE = 48000, BLOCK = 256, QUANTUM = 128;
const frames = ms => Math.round(ms * RATE / 1000);
const random = (state => () => (state = (state * 1103515245 + 12345) % 2 ** 31) / 2 ** 31)(1);

// play runs so many seconds. Each task is {starts, stops, every, lasts, spread, change} in
// ms: it comes that often and takes so long, up to spread more; a change is in the blocks
// that are made after it, and those that are not heard soon are made again. How long the
// queue gets is told of the time after its opening.
function play({seconds, lengths, block, tasks}) {
  let clock = 0, next = 0, dry = false, changes = 0; // clock: of the worker, ms
  const inbox = [], blocks = [], asked = []; // asked: when each change was
  const told = {gaps: 0, slowest: 0, longest: 0, at: 0}; // at: when the audio thread was heard of, ms
  let played = 0, sent = 0, inBlock = 0, heardChanges = 0;
  const inFrames = Object.fromEntries(Object.entries(lengths).map(([name, ms]) => [name, frames(ms)]));
  const queue = new Queue(BLOCK, inFrames, index => {
    clock += block;
    listen();
    const at = index - (sent - blocks.length), made = {at: clock, changes};
    if (index === sent) {
      blocks.push(made);
      sent++;
    } else if (at > 0 || at === 0 && !inBlock) blocks[at] = {...made, at: blocks[at].at};
  });

  // listen lets the audio thread go on up to the worker's time.
  function listen() {
    for (; next <= clock; next += 1000 * QUANTUM / RATE) {
      const first = blocks[0], ready = first && first.at <= next;
      const missed = !ready && played > 0 && !dry;
      if (missed) told.gaps++;
      dry = !ready && played > 0;
      if (ready) {
        for (; heardChanges < first.changes; heardChanges++) told.slowest = Math.max(told.slowest, next - asked[heardChanges]);
        played += QUANTUM;
        inBlock += QUANTUM;
      }
      const consumed = inBlock === BLOCK;
      if (consumed) {
        blocks.shift();
        inBlock = 0;
      }
      if (consumed || missed) {
        const at = next, message = {played, missed};
        inbox.push({at, act: () => {
          told.at = at;
          queue.heard(message, frames(clock - at));
        }});
      }
    }
  }

  const run = task => {
    clock += task.lasts + (task.spread || 0) * random();
    if (!task.change) return;
    listen();
    queue.revise(frames(clock - told.at), went => went, () => { changes++; });
  };
  tasks.forEach(task => { task.due = task.starts + task.every; });
  queue.supply();
  while (clock < 1000 * seconds) {
    listen();
    for (const task of tasks) {
      if (task.due > clock || task.due > task.stops) continue;
      if (task.change) asked.push(task.due);
      inbox.push({at: task.due, act: () => run(task)});
      task.due += task.every;
    }
    inbox.sort((a, b) => a.at - b.at);
    const message = inbox.shift();
    if (message) message.act();
    else clock += 0.1;
    if (played > inFrames.until) told.longest = Math.max(told.longest, queue.ahead * 1000 / RATE);
  }
  return told;
}

console.log(JSON.stringify(play(JSON.parse(process.argv[2]))));
