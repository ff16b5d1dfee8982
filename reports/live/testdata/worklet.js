// The audio thread without audio: what comes from a worker is given to it between the
// quanta that the test says, and what it plays is printed as JSON. It follows worklet.js.

// The test's sounds, by revision: sines of different sizes.
const SOUNDS = [0.3, 0.5, 0.4], HERTZ = 443.7, RATE = 48000, BLOCK = 256, QUANTUM = 128;
const sound = (revision, frame) => SOUNDS[revision] * Math.sin(2 * Math.PI * HERTZ * frame / RATE);

// A channel of two ends, as far as the audio thread uses one.
const said = [];
const port = () => ({postMessage: message => said.push(message), onmessage: null});

// play plays so many quanta. Each arrival is {before, revision, from, to, moved}: the blocks of
// those indices come before that quantum.
function play({quanta, arrivals}) {
  const outlet = new outlets.outlet(), own = outlet.port, source = port();
  own.onmessage({data: {port: source}});
  const played = [];
  for (let quantum = 0; quantum < quanta; quantum++) {
    for (const {before, revision, from, to, moved} of arrivals) {
      if (before !== quantum) continue;
      for (let index = from; index < to; index++) {
        const heard = Float32Array.from({length: 2 * BLOCK}, (_, i) => sound(revision, index * BLOCK + i % BLOCK) * (i < BLOCK ? 1 : -1)).buffer;
        source.onmessage({data: {heard, channels: 2, index, revision, moved: index === from ? moved : 0}});
      }
    }
    const output = [new Float32Array(QUANTUM), new Float32Array(QUANTUM)];
    outlet.process([[]], [output]);
    if (output[0].some((v, i) => v !== -output[1][i])) throw new Error("the channels are mixed up");
    played.push(...output[0]);
  }
  return {played, late: said.filter(m => m.late).length, missed: said.filter(m => m.missed && !m.played).length};
}

console.log(JSON.stringify(play(JSON.parse(process.argv[2]))));
