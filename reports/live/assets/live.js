// The page: what is set, what it is solved to, and what is seen of it.

const byId = id => document.getElementById(id);
const pieces = JSON.parse(byId("pieces").textContent);
const opening = JSON.parse(byId("opening").textContent); // the stage to begin with, solved when the page was written
const MATERIAL_RATE = 48000;
const SETTLE = 250; // ms without a change until the full law is asked for
const SURVEYED_EVERY = 120; // ms from one survey of a moving stage to the next
const ORDERS = 10; // of the harmonics' table
const LOOKS = 66; // ms from one look at the sound to the next

const state = {
  file: null, own: false, edited: false, sheet: null, // the stage
  mode: "quiescent", value: 0, load: 8, ambient: 25,
  source: null, // {name, material, rate, tone, peak, audio: [ArrayBuffer], seconds, notes}
  paused: true, loaded: false, busy: false,
};
let sketcher, surveyor, player, deck;
let law = null, solution = null, portrait = null, view = null, table = null;
let given = null; // the portrait that the worker that looks has
let circuit = null; // for the player to follow in time, of the present bias
let gain = 0; // makes the output as loud as the input, 0: not known
let turn = 0; // counts changes, so that what is late is known to be

const radio = name => document.querySelector(`input[name="${name}"]:checked`).value;
const level = () => Number(byId("level").value);

function say(text) { byId("status").textContent = text; }

// ---- the sliders' scales

// ladder turns the bias slider's place into volts or amperes, evenly or by ratios.
function fromSlider(place) {
  const part = place / 1000, s = state.sheet;
  if (state.mode === "bias") return part * s.maximum_bias;
  return s.minimum_quiescent * (s.maximum_quiescent / s.minimum_quiescent) ** part;
}

function toSlider(value) {
  const s = state.sheet;
  const part = state.mode === "bias" ? value / s.maximum_bias
    : Math.log(Math.max(value, s.minimum_quiescent) / s.minimum_quiescent) / Math.log(s.maximum_quiescent / s.minimum_quiescent);
  return Math.round(1000 * Math.min(Math.max(part, 0), 1));
}

// The load goes from a quarter of the file's to four times that.
const loadOf = place => digits(state.sheet.load * 4 ** (place / 500 - 1), 3);
const digits = (value, count) => Number(value.toPrecision(count));

// ---- the stage

// useStage takes a stage file, or the name of a built-in stage.
async function useStage(file, own) {
  let sheet;
  try {
    [sheet] = await surveyor.call("describe", file);
  } catch (error) {
    byId("refusal").textContent = error.message;
    throw error;
  }
  byId("refusal").textContent = "";
  dress(sheet, own);
  await change(true);
}

// dress shows a stage's controls, its bias where the sheet has them begin.
function dress(sheet, own) {
  Object.assign(state, {file: sheet.file, own, sheet, load: sheet.load, ambient: Math.round(sheet.ambient)});
  byId("text").value = sheet.file;
  byId("stage-title").textContent = sheet.title;
  byId("own-stage").hidden = !own;
  if (own) byId("own-stage").textContent = sheet.title + " (edited)";
  byId("stage").value = own ? "" : sheet.name;
  byId("memory-note").hidden = byId("time-choice").hidden = !sheet.memory;
  showFollowed({state: ""});
  byId("load").value = 500;
  byId("ambient").value = state.ambient;
  if (state.mode === "quiescent") state.value = sheet.start;
  else if (state.mode === "bias") state.value = digits(Math.min(sheet.bias, sheet.maximum_bias), 4);
  showSettings();
}

function request(quick) {
  return {
    file: state.file, load: state.load, ambient: state.ambient, mode: state.mode, value: state.value,
    drive: state.sheet.drive, level: Math.max(0, level()), quick,
  };
}

// change asks for the law of what is set now: a sketch at once, and only the newest
// of several; the full law when nothing has changed for a while.
let wanted = false, changing = false, settling = 0, surveyed = 0, movedAt = 0;
async function change(another = false, at = Date.now()) {
  turn++;
  movedAt = at;
  circuit = null;
  unpredicted();
  if (another) wanted = "stage";
  else wanted = wanted || "law";
  clearTimeout(settling);
  if (changing) return;
  changing = true;
  yielding();
  while (wanted) {
    const kind = wanted;
    wanted = false;
    try {
      const [found, bytes] = await sketcher.call("solve", request(true), [], state.loaded && kind === "law" ? movedAt : 0);
      learn(found, bytes);
      if (kind === "stage") restage();
      byId("bias-refusal").textContent = "";
      portray();
    } catch (error) {
      byId("bias-refusal").textContent = error.message;
    }
  }
  changing = false;
  settling = setTimeout(settle, SETTLE);
}

// portray shows what the stage is like while it moves. Sketches go before, in the same worker.
let portraying = false;
async function portray() {
  if (portraying || performance.now() - surveyed < Math.max(rest, SURVEYED_EVERY)) return;
  portraying = true;
  surveyed = performance.now();
  const {sheet} = state;
  try {
    const [p] = await sketcher.call("portrait");
    if (sheet === state.sheet && !solution.rung) showPortrait(p); // else a newer one is there
  } catch (error) {
    byId("bias-refusal").textContent = error.message;
  }
  portraying = false;
}

function learn(found, bytes) {
  solution = found;
  law = bytes;
  showPoint();
}

// restage hands another stage to the player.
function restage() {
  if (!state.loaded) return;
  gain = 0;
  player.call("stage", state.sheet.drive, [law]);
}

async function settle() {
  const mine = turn;
  try {
    const [found, bytes] = await surveyor.call("solve", request(false));
    if (mine !== turn) return;
    learn(found, bytes);
    if (state.loaded) player.call("law", null, [bytes]);
    await match();
    const [p] = await surveyor.call("portrait");
    if (mine === turn) showPortrait(p);
    await tone();
    await follow();
  } catch (error) {
    if (mine === turn) byId("bias-refusal").textContent = error.message;
  }
}

// match finds the gain that makes the whole source as loud behind the present law as
// before it; of what comes in by a microphone there is none.
async function match() {
  const s = state.source, bytes = law;
  if (!s || s.live || !byId("match").checked) return;
  const [found] = await surveyor.call("match", {drive: state.sheet.drive, controls: {...controls(), gain: 0}}, [bytes]);
  if (law !== bytes || state.source !== s) return;
  gain = found;
  if (state.loaded) await player.call("controls", {...controls(), told: true});
  showCommand();
}

// follow has the player follow a circuit that stores energy in time, as soon as it can and
// if it keeps up.
async function follow() {
  if (!state.sheet.memory || !byId("in-time").checked) return;
  const mine = turn;
  if (!circuit) {
    const [found] = await surveyor.call("circuit");
    if (mine !== turn) return;
    circuit = found;
  }
  followedFrom = deck.missed;
  if (state.loaded) await player.call("follow", circuit);
}

// unfollow goes back to the law.
function unfollow() {
  if (state.loaded) player.call("law", null, [law]);
  if (view) view.followed = {state: ""};
  showFollowed({state: ""});
}

// The sound goes before: where it has so many gaps in time, the law is played.
const GAPS_ALLOWED = 3;
let followedFrom = 0; // gaps

// showFollowed says which way plays.
function showFollowed(f) {
  const pace = f.pace ? number(f.pace, 2) : "";
  byId("pace").textContent = {
    "": "Now the law plays.",
    coming: "Now the law plays; the circuit in time is on its way" + (pace && `, ${pace} times as fast as the sound`) + ".",
    playing: `Now the circuit plays in time, at 16 times the sampling rate: this machine does so ${pace} times as fast as the sound.`,
    slow: `Now the law plays: in time this machine goes ${pace} times as fast as the sound, which leaves too little to spare.`,
    failed: `Now the law plays: ${f.why}.`,
  }[f.state];
  byId("way").textContent = !state.sheet.memory ? "" : f.state === "playing" ? "Played in time." : "Played by its midband law.";
}

// tone asks for the harmonics of a steady tone, from the law.
async function tone() {
  const mine = turn, s = state.source;
  byId("harmonics").hidden = !(s && s.tone);
  if (!s || !s.tone || !solution || !solution.rung) return;
  const peak = s.peak * 10 ** (level() / 20) * state.sheet.drive;
  const [found] = await surveyor.call("tone", {Hertz: s.tone, Peak: peak});
  if (mine !== turn) return;
  byId("harmonics").caption.textContent = `Harmonics of ${number(s.tone)} Hz at ${decibels(level(), 0)}, from the law: THD ${percent(found.thd)}`;
  const list = [["1", number(s.tone, 4) + " Hz", quantity(found.out_v, "V") + " peak"]]
    .concat(found.harmonics.slice(0, ORDERS - 1).map((h, i) => [String(i + 2), number(s.tone * (i + 2), 4) + " Hz", relative(Math.abs(h))]));
  byId("harmonics").tBodies[0].replaceChildren(...list.map(row));
}

const percent = ratio => (ratio < 1e-6 ? "under 0.0001" : number(100 * ratio, 2)) + " %";
const relative = ratio => ratio > 1e-8 ? decibels(20 * Math.log10(ratio)) : "under −160 dB";

function row(cells) {
  const tr = document.createElement("tr");
  cells.forEach((text, i) => {
    const cell = document.createElement(i ? "td" : "th");
    if (!i) cell.scope = "row";
    cell.textContent = text;
    tr.append(cell);
  });
  return tr;
}

// ---- the sound

function controls() {
  return {
    level: level(), turn_up: byId("turn-up").checked, monitor: radio("monitor"), make_up: Number(byId("make-up").value),
    match: byId("match").checked, gain, loop: byId("loop").checked, paused: state.paused,
  };
}

async function steer() {
  showCommand();
  if (state.loaded) await player.call("controls", controls());
}

// choose prepares a source; make returns it.
async function choose(name, make) {
  state.busy = true;
  byId("play").disabled = true;
  say("Preparing " + name + " …");
  try {
    await pause();
    state.loaded = false;
    gain = 0;
    state.source = await make();
    const s = state.source;
    if (!s.live && !s.digested) await surveyor.call("digest", s.rate, s.audio.map(a => new Uint8Array(a)));
    s.seconds = s.live ? 0 : s.audio[0].byteLength / 4 / s.rate;
    if (!s.live) deck.deafen();
    byId("place").value = 0;
    byId("piece-note").textContent = state.source.notes;
    byId("place").disabled = byId("save-sound").disabled = s.live === true;
    say("");
    showTime(0);
    await load();
    await tone();
  } catch (error) {
    say(error.message);
  }
  byId("play").disabled = !state.loaded;
  state.busy = false;
  showCommand();
}

function choosePiece() {
  const piece = pieces.find(p => p.name === byId("piece").value);
  return choose(piece.title, async () => {
    const [, ...audio] = await surveyor.call("generate", {name: piece.name, rate: MATERIAL_RATE, seed: 1});
    const shows = piece.shows ? piece.shows[0].toUpperCase() + piece.shows.slice(1) + "." : "";
    return {name: piece.name, material: true, digested: true, rate: MATERIAL_RATE, tone: piece.tone, peak: piece.peak, audio: audio.map(a => a.buffer), notes: shows};
  });
}

function chooseFile(file) {
  byId("own-piece").hidden = false;
  byId("own-piece").textContent = file.name;
  byId("piece").value = "";
  return choose(file.name, async () => {
    const found = await decoded(surveyor, file.name, await file.arrayBuffer());
    return {name: file.name, material: false, tone: 0, ...found};
  });
}

// chooseInput plays what comes in from a microphone or a line.
function chooseInput() {
  byId("own-piece").hidden = false;
  byId("own-piece").textContent = "Microphone or line";
  byId("piece").value = "";
  return choose("the input", async () => {
    await deck.listen();
    return {name: "microphone", live: true, foreign: true, rate: MATERIAL_RATE, tone: 0, notes: "Listen through headphones: a loudspeaker near the microphone howls. Nothing is kept."};
  });
}

// load gives the player what it is to play, and runs it in.
async function load() {
  const s = state.source;
  await match();
  const programme = {channels: 2, rate: s.rate, drive: state.sheet.drive, controls: {...controls(), paused: true}};
  if (s.live) await player.call("live", programme, [law]);
  else await player.call("load", programme, [law, ...s.audio.map(a => new Uint8Array(a))]);
  state.loaded = true;
  await deck.runIn(() => law);
  if (circuit) await follow();
}

// runIn lets the browser translate the solver before a slider moves.
async function runIn() {
  for (let i = 0; i < 6; i++) await sketcher.call("solve", request(true));
}

async function play() {
  if (!state.loaded || state.busy) return;
  state.busy = true;
  try {
    if (view && view.ended) await player.call("seek", 0);
    await deck.open(state.source.rate, state.source.live === true);
    deck.hear();
    state.paused = false;
    await steer();
    byId("play").textContent = "Pause";
    say(byId("volume").value === byId("volume").min ? "Playing, with the volume off: raise it slowly." : "");
    look();
  } catch (error) {
    say(error.message);
  }
  state.busy = false;
}

async function pause() {
  byId("play").textContent = "Play";
  if (state.paused) return;
  state.paused = true;
  await steer();
  await new Promise(done => setTimeout(done, 120));
  if (state.paused && deck.context) await deck.context.suspend();
}

// ---- looking at the sound

// Figures give way to the sound: where it had gaps, or where looking takes long, the
// next look is later, up to a second.
let looking = 0, looks = 0, rest = LOOKS, missed = 0;
function look() {
  clearTimeout(looking);
  looking = setTimeout(async () => {
    if (state.paused || !state.loaded) return;
    const began = performance.now();
    try {
      showView(await deck.look({seconds: Number(byId("seconds").value), spectra: looks++ % 3 === 0, portrait: unseen()}));
      predict();
    } catch (error) {
      say(error.message);
    }
    yielding();
    rest = deck.missed > missed ? Math.min(2 * rest, 1000) : Math.max(LOOKS, performance.now() - began, 0.9 * rest);
    missed = deck.missed;
    look();
  }, rest);
}

// unseen is the portrait that the worker that looks has not been given yet.
function unseen() {
  if (portrait === given) return undefined;
  given = portrait;
  return portrait;
}

const figures = {
  time: new Figure(byId("time-figure"), {below: "ms", left: "V"}),
  current: new Figure(byId("current-figure"), {below: "ms", left: "A"}),
  transfer: new Figure(byId("transfer-figure"), {below: "input, V", left: "output, V"}),
  gain: new Figure(byId("gain-figure"), {below: "input, V", left: "V/V"}),
  spectrum: new Figure(byId("spectrum-figure"), {below: "Hz", left: "dB re full drive", log: true}),
};
const holds = {time: new Hold(), current: new Hold(), gain: new Hold()};

let playedAs = "";
function showView(seen) {
  const spectra = seen.spectra || (view && view.spectra);
  view = seen;
  view.spectra = spectra;
  showTime(seen.position);
  showFollowed(seen.followed);
  if (seen.followed.state !== playedAs) {
    playedAs = seen.followed.state;
    showCommand();
  }
  if (seen.followed.state === "playing" && deck.missed - followedFrom >= GAPS_ALLOWED) {
    byId("in-time").checked = false;
    unfollow();
    showCommand();
    say("The circuit in time left gaps in the sound: its law plays.");
  }
  drawTime();
  drawCurrents();
  drawTransfer();
  drawGain();
  if (seen.spectra) drawSpectrum();
  showNumbers();
  if (seen.ended && !byId("loop").checked) pause();
}

function milliseconds() {
  return view.trace.in.map((_, i) => 1000 * (i - view.trace.offset) / state.source.rate);
}

function drawTime() {
  if (!figures.time.seen) return;
  const {in: input, out, residual} = view.trace, at = milliseconds();
  const peak = Math.max(...input.map(Math.abs), ...out.map(Math.abs));
  const top = holds.time.follow(peak);
  const rest = Math.max(...residual.map(Math.abs));
  const times = Math.max(1, Math.min(1e4, 10 ** Math.floor(Math.log10(top / Math.max(rest, 1e-9)))));
  const unit = top < 1e-3 ? [1e6, "µV"] : top < 1 ? [1e3, "mV"] : [1, "V"];
  figures.time.axes(at[0], at[at.length - 1], -top, top, {left: unit[1], up: v => number(v * unit[0])})
    .curve("in", at, input).curve("out", at, out).curve("rest", at, residual.map(v => v * times))
    .key([["in", "input"], ["out", "output"], ["rest", "residual" + (times > 1 ? " × " + times : "")]]);
}

function drawCurrents() {
  if (!portrait || !figures.current.seen) return;
  const at = milliseconds();
  const lists = portrait.current.map(list => view.trace.in.map(v => between(list, portrait.reach, v)));
  const top = holds.current.follow(Math.max(...lists.flat(), 1e-4));
  const unit = top < 0.2 ? [1e3, "mA"] : [1, "A"];
  figures.current.axes(at[0], at[at.length - 1], 0, top, {left: unit[1], up: v => number(v * unit[0])});
  lists.forEach((list, i) => figures.current.curve(["one", "two"][i], at, list));
  figures.current.key(portrait.devices.map((name, i) => [["one", "two"][i], name]));
}

// span is the input range of transfer and gain: it belongs to the stage, not to the
// bias, so that a dead zone is seen to shrink.
function span() {
  const drive = state.sheet.drive;
  return byId("zoom").checked ? round(drive / 12) : 1.15 * drive;
}

function drawTransfer() {
  if (!portrait || !figures.transfer.seen) return;
  const x = span();
  const sizes = portrait.out.filter((_, i) => Math.abs(portrait.in[i]) <= state.sheet.drive).map(Math.abs);
  const full = Math.max(...sizes) / state.sheet.drive;
  const y = byId("zoom").checked ? 1.1 * full * x : 1.1 * full * state.sheet.drive;
  figures.transfer.axes(-x, x, -y, y, {across: v => number(v, 2), up: v => number(v, 2)});
  if (view) figures.transfer.band(-view.peak, view.peak);
  figures.transfer.curve("out", portrait.in, portrait.out);
  if (view) figures.transfer.point("dot", view.input, between(portrait.out, portrait.reach, view.input));
}

function drawGain() {
  if (!portrait || !figures.gain.seen) return;
  const x = span();
  const half = Math.abs(between(portrait.gain, portrait.reach, state.sheet.drive / 2));
  const sign = between(portrait.gain, portrait.reach, state.sheet.drive / 2) < 0 ? -1 : 1;
  const top = holds.gain.follow(Math.max(...portrait.gain.map(Math.abs), 1e-3) * 0.999);
  const [lo, hi] = byId("magnify").checked ? [0.9 * half, 1.05 * half] : [0, Math.max(top, 1.1 * half)];
  figures.gain.axes(-x, x, lo, hi, {across: v => number(v, 2), left: sign < 0 ? "V/V, inverted" : "V/V"});
  if (view) figures.gain.band(-view.peak, view.peak);
  const gains = portrait.gain.map(g => g * sign);
  figures.gain.curve("out", portrait.in, gains);
  if (view) figures.gain.point("dot", view.input, between(gains, portrait.reach, view.input));
}

function drawSpectrum() {
  if (!figures.spectrum.seen) return;
  const s = view.spectra, top = Math.max(20 * Math.ceil((level() + 10) / 20), -20);
  const names = v => v >= 1000 ? v / 1000 + "k" : String(v);
  figures.spectrum.axes(20, 20000, top - 140, top, {across: names, xTicks: [20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000], up: v => number(v)})
    .curve("rest", s.hertz, s.residual).curve("out", s.hertz, s.output).curve("in", s.hertz, s.reference)
    .key([["in", "input"], ["out", "output"], ["rest", "residual"]]);
}

// ---- what is predicted to be heard

const PREDICTED = 3; // s of the sound, up to what plays
const PREDICTION_EVERY = 4000; // ms from one prediction to the next, at least
let predicting = false, predicted = 0;

// How long the second worker rests for each time at work on a prediction: usually, while a
// bias moves, and for a while after the sound had a gap.
const EASE = {usual: 3, moving: 15, gap: 60};
const EASED_AFTER_GAP = 3000, EASED_AFTER_MOVE = 1000; // ms
let eased = EASE.usual, moved = -Infinity, gapped = -Infinity;

// yielding makes predictions give way to the sound and to a bias that moves.
function yielding() {
  const now = performance.now();
  if (changing) moved = now;
  if (deck && deck.missed > missed) gapped = now;
  const wanted = now - gapped < EASED_AFTER_GAP ? EASE.gap : now - moved < EASED_AFTER_MOVE ? EASE.moving : EASE.usual;
  if (wanted !== eased) surveyor.call("ease", eased = wanted);
}

// predict hears the last seconds in the second worker, with the law and the controls of
// the sound, in slices.
async function predict() {
  const s = state.source;
  if (predicting || !solution || !solution.rung || s.live || performance.now() - predicted < PREDICTION_EVERY) return;
  const to = Math.round(view.position * s.rate), from = Math.max(0, to - PREDICTED * s.rate);
  if (to - from < 0.5 * s.rate) return;
  predicting = true;
  const mine = turn;
  try {
    const part = s.audio.map(a => new Uint8Array(new Float32Array(a, 4 * from, to - from).slice().buffer));
    const asked = {...controls(), gain: byId("match").checked ? view.match : 0, loop: false, paused: false};
    yielding();
    const [found] = await surveyor.call("predict", {rate: s.rate, drive: state.sheet.drive, controls: asked}, [law, ...part]);
    if (mine === turn) showVerdict(found);
  } catch (error) {
    byId("verdict").textContent = "No prediction: " + error.message;
  }
  if (mine === turn) predicted = performance.now();
  predicting = false;
}

// unpredicted takes a prediction back that was of another stage or bias.
function unpredicted() {
  byId("verdict").textContent = "Predicted again some seconds after a change, while it plays.";
  byId("verdict-meter").value = 0;
  predicted = -Infinity;
}

function showVerdict(found) {
  const [word, chance] = inWords(found.detection);
  byId("verdict").textContent = `Predicted of the last ${PREDICTED} s: the stage is ${word}, in ${chance} of trials.`;
  byId("verdict-meter").value = found.detection;
}

const celsius = kelvin => number(kelvin - 273.15, 3) + " °C";

function showNumbers() {
  const w = view.warmth;
  const list = [
    ["residual re the output", view.residual > 0 ? relative(view.residual) + ", " + percent(view.residual) : "–"],
    ["gain of the stage, fitted", number(view.fitted, 4) + " V/V"],
    ["output matched by", byId("match").checked ? decibels(20 * Math.log10(Math.abs(view.match))) : "nothing"],
    ["limiter", view.limited < 1 ? decibels(20 * Math.log10(view.limited)) : "idle"],
  ];
  if (w) {
    list.push(["from the supplies", quantity(w.supply, "W")], ["into the load", quantity(w.load, "W")]);
    w.devices.forEach((p, i) => list.push(["heat in " + portrait.devices[i], quantity(p, "W")]));
    list.push(["junction, if this goes on", celsius(w.junction) + (w.junction > w.limit ? ": too hot, it would fail" : "")]);
  }
  if (deck.late.length) list.push(["a change is heard after", Math.round(Math.max(...deck.late)) + " ms at most, lately"]);
  if (deck.missed) list.push(["gaps in the sound", String(deck.missed)]);
  byId("numbers").tBodies[0].replaceChildren(...list.map(row));
}

function showPortrait(p) {
  portrait = p;
  showPoint();
  if (view && !state.paused) return; // the next look draws it
  drawTransfer();
  drawGain();
  if (view) drawCurrents();
}

// ---- what is set, in words

function showTime(seconds) {
  const clock = s => Math.floor(s / 60) + ":" + String(Math.floor(s % 60)).padStart(2, "0");
  const whole = state.source ? state.source.seconds : 0;
  byId("time").textContent = whole ? clock(seconds) + " of " + clock(whole) : clock(seconds);
  if (document.activeElement !== byId("place") || state.paused === false) byId("place").value = whole ? 1000 * seconds / whole : 0;
}

function showSettings() {
  const unit = state.mode === "bias" ? "V" : "A";
  const built = state.mode === "as-built";
  byId("bias").disabled = byId("bias-number").disabled = built;
  byId("bias-text").textContent = built ? "as built" : quantity(state.value, unit);
  byId("bias").setAttribute("aria-valuetext", byId("bias-text").textContent);
  byId("bias-unit").textContent = state.mode === "bias" ? "V" : "mA";
  if (!built) {
    byId("bias").value = toSlider(state.value);
    if (document.activeElement !== byId("bias-number")) byId("bias-number").value = state.mode === "bias" ? state.value : digits(state.value * 1e3, 6);
  }
  byId("level-text").textContent = decibels(level(), 0) + " (" + quantity(state.sheet.drive * 10 ** (level() / 20), "V") + " peak)";
  byId("make-up-text").textContent = decibels(Number(byId("make-up").value), 0);
  byId("load-text").textContent = quantity(state.load, "Ω");
  byId("ambient-text").textContent = state.ambient + " °C";
  showCommand();
}

function showPoint() {
  if (!solution) return;
  const parts = [quantity(solution.bias, "V") + " at the bias point", quantity(solution.quiescent, "A") + " in each device at rest", quantity(solution.supply, "W") + " drawn"];
  if (solution.says) parts.push(solution.says);
  if (solution.rung && solution.rung.dead_zone_v > 0) parts.push(quantity(solution.rung.dead_zone_v, "V") + " of dead zone");
  byId("point").textContent = parts.join(", ") + ".";
}

// quoted protects a word from the shell.
const quoted = word => /^[\w.,:=+@%/-]+$/.test(word) ? word : "'" + word.replaceAll("'", "'\\''") + "'";

// changed tells whether the stage is not a built-in one as it stands.
const changed = () => state.own || state.load !== state.sheet.load || state.ambient !== Math.round(state.sheet.ambient);

const inTime = () => view && view.followed.state === "playing";

function commandLine() {
  const s = state.source, words = ["quietcross", "render", "--stage", changed() ? state.sheet.name + "-live.toml" : state.sheet.name];
  if (state.mode === "as-built") words.push("--as-built");
  else words.push("--" + state.mode, state.value + (state.mode === "bias" ? "V" : "A"));
  const solver = inTime() ? "dynamic" : "static";
  words.push("--level", String(level()), "--drive", state.sheet.drive + "V", "--solver", solver, "--oversample", String(state.sheet.oversample[solver]));
  words.push("--match", byId("match").checked ? "loudness" : "off", "--format", "float32");
  if (s && s.material) words.push("--material", s.name, "--rate", String(s.rate));
  else if (s && !s.foreign) words.push(s.name.startsWith("-") ? "./" + s.name : s.name);
  else words.push("FILE.wav");
  return words.map(quoted).join(" ");
}

function showCommand() {
  if (!state.sheet) return;
  byId("command").textContent = commandLine();
  const notes = [];
  if (changed()) notes.push("Save the stage file beside it: load and temperature are written into it.");
  if (byId("match").checked && state.source && state.source.live) notes.push("The command matches the loudness of the whole, the page that of the last second.");
  if (byId("turn-up").checked && level() !== 0) notes.push("Its files are as soft as the level says, not turned up.");
  byId("command-note").textContent = notes.join(" ");
}

// ---- keeping

// recorded returns what plays, from the beginning to the end, as a WAV file. A worker
// of its own makes it, so that the sound goes on.
async function recorded() {
  const followed = inTime() ? circuit : undefined;
  const [, full] = await surveyor.call("solve", request(false));
  const recorder = new Engine(compiled);
  await recorder.ready;
  recorder.told = share => say("Rendering: " + Math.round(100 * share) + " %");
  try {
    const s = state.source;
    const [, file] = await recorder.call("record", {rate: s.rate, drive: state.sheet.drive, controls: controls(), circuit: followed}, [full, ...s.audio.map(a => new Uint8Array(a))]);
    return file;
  } finally {
    recorder.end();
  }
}

async function saveSound() {
  byId("save-sound").disabled = true;
  try {
    const file = await recorded();
    keep(state.source.name.replace(/\.\w+$/, "") + "-" + radio("monitor") + ".wav", file, "audio/wav");
    say("The sound is saved.");
  } catch (error) {
    say(error.message);
  }
  byId("save-sound").disabled = false;
}

async function saveStage() {
  const [text] = await surveyor.call("file", request(false));
  keep(state.sheet.name + "-live.toml", text, "text/plain");
}

// ---- what is done with the page

function listen() {
  const on = (id, kind, act) => byId(id).addEventListener(kind, act);
  const set = act => event => { act(); showSettings(); change(false, performance.timeOrigin + event.timeStamp); };
  on("play", "click", () => state.paused ? play() : pause());
  on("place", "input", () => { if (state.loaded) player.call("seek", Number(byId("place").value) / 1000 * state.source.seconds); });
  on("volume", "input", () => {
    const volume = byId("volume"), off = volume.value === volume.min;
    byId("volume-text").textContent = off ? "off" : decibels(Number(volume.value), 0);
    deck.setVolume(off ? 0 : 10 ** (volume.value / 20));
    if (!state.paused) say("");
  });
  document.querySelectorAll('input[name="monitor"]').forEach(e => e.addEventListener("change", steer));
  ["turn-up", "loop"].forEach(id => on(id, "change", steer));
  on("in-time", "change", () => {
    if (byId("in-time").checked) follow();
    else unfollow();
    showCommand();
  });
  on("match", "change", async () => { await steer(); if (law) await match(); });
  on("make-up", "input", () => { showSettings(); steer(); });
  on("level", "input", set(steer));
  on("bias", "input", set(() => { state.value = digits(fromSlider(Number(byId("bias").value)), 4); }));
  on("bias-number", "input", set(() => { state.value = digits(Number(byId("bias-number").value) * (state.mode === "bias" ? 1 : 1e-3), 9); }));
  on("load", "input", set(() => { state.load = loadOf(Number(byId("load").value)); }));
  on("ambient", "input", set(() => { state.ambient = Number(byId("ambient").value); }));
  document.querySelectorAll('input[name="mode"]').forEach(e => e.addEventListener("change", set(() => {
    state.mode = radio("mode");
    if (state.mode === "bias") state.value = digits(solution.bias, 4);
    if (state.mode === "quiescent") state.value = digits(Math.max(solution.quiescent, state.sheet.minimum_quiescent), 4);
  })));
  on("stage", "change", () => useStage(byId("stage").value, false).catch(() => {}));
  on("use", "click", () => useStage(byId("text").value, true).catch(() => {}));
  on("text", "input", check);
  on("piece", "change", choosePiece);
  on("file", "change", () => { if (byId("file").files.length) chooseFile(byId("file").files[0]); });
  on("input", "click", chooseInput);
  on("save-sound", "click", saveSound);
  on("save-stage", "click", saveStage);
  on("copy", "click", () => navigator.clipboard.writeText(byId("command").textContent).then(() => say("The line is copied."), () => select(byId("command"))));
  ["zoom", "magnify"].forEach(id => on(id, "change", () => { drawTransfer(); drawGain(); }));
  document.querySelectorAll("button.svg").forEach(button => button.addEventListener("click", () => {
    const svg = button.closest("figure").querySelector("svg");
    keep("quietcross-" + svg.id + ".svg", standalone(svg, svg.getAttribute("aria-label") + ": " + byId("stage-title").textContent), "image/svg+xml");
  }));
  addEventListener("dragover", event => { event.preventDefault(); document.body.classList.add("dropping"); });
  addEventListener("dragleave", event => { if (!event.relatedTarget) document.body.classList.remove("dropping"); });
  addEventListener("drop", event => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    if (event.dataTransfer.files.length) chooseFile(event.dataTransfer.files[0]);
  });
  addEventListener("keydown", press);
}

function select(element) {
  getSelection().selectAllChildren(element);
  say("The line is selected: copy it with the browser's own key.");
}

// check tells what is wrong with a stage file while it is written.
let checking = 0;
function check() {
  clearTimeout(checking);
  checking = setTimeout(async () => {
    try {
      await surveyor.call("describe", byId("text").value);
      byId("refusal").textContent = "";
    } catch (error) {
      byId("refusal").textContent = error.message;
    }
  }, 400);
}

function press(event) {
  const writing = event.target.matches("textarea, select, input[type=number], input[type=file]");
  if (writing || event.ctrlKey || event.metaKey || event.altKey) return;
  const monitor = {1: "reference", 2: "output", 3: "residual"}[event.key];
  if (monitor) {
    document.querySelector(`input[name="monitor"][value="${monitor}"]`).checked = true;
    steer();
  } else if (event.key === " " && !event.target.matches("button, summary, input[type=checkbox], input[type=radio]")) {
    event.preventDefault();
    if (state.paused) play();
    else pause();
  } else if (event.key === "b" || event.key === "B") {
    byId("bias").focus();
  }
}

let compiled;
async function start() {
  try {
    solution = opening.solution;
    law = bytesOf(opening.law);
    dress(opening.sheet, opening.own);
    showPortrait(opening.portrait);
    byId("save-stage").disabled = byId("copy").disabled = false;
    await parsed();
    compiled = unpack();
    [surveyor, player, sketcher] = [0, 1, 2].map(() => new Engine(compiled));
    deck = new Deck(player, surveyor, sketcher);
    listen();
    await Promise.all([surveyor.ready, player.ready]);
    document.body.dataset.ready = "yes";
    document.body.dataset.after = Math.round(performance.now());
    await choosePiece();
    document.body.dataset.playable = Math.round(performance.now());
    await settle();
    runIn();
  } catch (error) {
    say("The engine does not start: " + error.message);
  }
}
start();
