// The lesson: pages are turned, sounds are chosen, and the figures follow what plays.
//
// A scene is a stage at a bias, a step shows one screen. The player has one source and
// takes the law of a scene over when a sound of it is chosen.

const byId = id => document.getElementById(id);
const data = JSON.parse(byId("data").textContent);
const LOOKS = 66; // ms from one look at the sound to the next
const SETTLE = 300; // ms without a move until a bias is solved in full
const MUSIC_RATE = 48000;
const PREDICTED_SECONDS = 6; // of other music, that a prediction is made of
const TIME_SHOWN = 0.006; // s

const sections = [...document.querySelectorAll(".step")];
const steps = [null, ...data.steps];
const state = {at: 0, chosen: data.steps.map(s => s.first), paused: true, loaded: false, busy: true, source: null, volume: 10 ** (-30 / 20), scene: null};
let sketcher, surveyor, player, deck;
let view = null, given = null;
const moved = {}; // by step: the scene of a bias that was moved

function say(text) { byId("status").textContent = text; }

const section = () => sections[state.at];
const step = () => steps[state.at];
const sound = () => step().sounds[state.chosen[state.at - 1]];

// sceneOf is what a step shows: the scene of its chosen sound, or the one that was moved.
function sceneOf(at, index = state.chosen[at - 1]) {
  const list = steps[at].sounds;
  if (moved[at] && index === slid(at)) return moved[at];
  return data.scenes[list[index].scene];
}

// slid is the sound that a step's slider moves: its second.
const slid = at => steps[at].maximum ? 1 : -1;

// ---- turning pages

function turn(at) {
  state.at = Math.min(Math.max(at, 0), sections.length - 1);
  sections.forEach((s, i) => { s.hidden = i !== state.at; });
  byId("previous").disabled = state.at === 0;
  byId("next").disabled = state.at === sections.length - 1;
  history.replaceState(null, "", "#" + section().id);
  document.querySelector("main").scrollTop = 0;
  scrollTo(0, 0);
  if (state.at > 0) {
    dress(state.at);
    adopt();
  }
  legible();
}

// dress shows a step's chosen sound, its figure and its drawing.
function dress(at) {
  const s = sections[at], index = state.chosen[at - 1], scene = steps[at].sounds[index].scene;
  s.querySelectorAll(".play").forEach((b, i) => b.setAttribute("aria-pressed", i === index));
  const drawings = [...s.querySelectorAll(".drawing")];
  const fits = drawings.find(d => Number(d.dataset.scene) === scene) || drawings[0];
  drawings.forEach(d => { d.hidden = d !== fits; });
  choose(at, figureOf(at));
  readout(at);
}

const figures = {}; // by step: {kind, figure}

const figureOf = at => figures[at] ? figures[at].kind : steps[at].figure;

const axes = {
  time: {below: "time, ms", left: "V at the loudspeaker"},
  transfer: {below: "input, V", left: "output, V"},
  currents: {below: "time, ms", left: "A"},
  gain: {below: "input, V", left: "gain, V/V"},
};

// choose shows one kind of figure in a step.
function choose(at, kind) {
  const s = sections[at], svg = s.querySelector("svg.live");
  const box = s.querySelector(".graph"), table = s.querySelector(".tablebox");
  svg.toggleAttribute("hidden", !(kind in axes));
  svg.style.display = kind in axes ? "" : "none";
  if (box) box.hidden = kind !== "graph";
  if (table) table.hidden = kind !== "table";
  s.querySelectorAll(".tab").forEach(t => t.setAttribute("aria-pressed", t.dataset.figure === kind));
  s.querySelector(".moving .svg").disabled = kind === "table";
  if (!figures[at]) figures[at] = {};
  if (figures[at].kind !== kind) Object.assign(figures[at], {kind, figure: kind in axes ? new Figure(svg, axes[kind]) : null});
  draw(at);
}

function cycle() {
  const kinds = [...section().querySelectorAll(".tab")].map(t => t.dataset.figure);
  choose(state.at, kinds[(kinds.indexOf(figureOf(state.at)) + 1) % kinds.length]);
  legible();
}

// ---- figures

const peakOf = (at, scene) => scene.request.drive * 10 ** (steps[at].level / 20);

// atRest is what a figure shows when nothing plays: a sine.
function atRest(at, scene) {
  const n = 240, peak = peakOf(at, scene), p = scene.portrait;
  const input = Array.from({length: n + 1}, (_, i) => peak * Math.sin(4 * Math.PI * i / n));
  return {trace: {in: input, out: input.map(v => between(p.out, p.reach, v) - between(p.out, p.reach, 0)), offset: 0}, rate: n / TIME_SHOWN, input: 0.4 * peak, peak};
}

// shown is what plays, if it plays in this step, or what is shown at rest.
function shown(at, scene) {
  if (at === state.at && !state.paused && view && state.scene === scene) return {...view, rate: state.source.rate};
  return atRest(at, scene);
}

function draw(at) {
  const f = figures[at] && figures[at].figure;
  if (!f) return;
  const scene = sceneOf(at), now = shown(at, scene);
  ({time: drawTime, transfer: drawTransfer, currents: drawCurrents, gain: drawGain})[figures[at].kind](f, at, scene, now);
}

const millis = now => now.trace.in.map((_, i) => 1000 * (i - now.trace.offset) / now.rate);

// Axes belong to the step and the stage, not to what plays or to the bias, so that what
// shrinks is seen to shrink.
function drawTime(f, at, scene, now) {
  const top = round(1.1 * peakOf(at, scene) * Math.abs(scene.gain)), time = millis(now);
  const reference = now.trace.in.map(v => v * scene.gain);
  f.axes(time[0], time[time.length - 1], -top, top)
    .curve("in", time, reference).curve("out", time, now.trace.out)
    .key([["in", "input, to scale"], ["out", "output"]]);
}

function drawCurrents(f, at, scene, now) {
  const p = scene.portrait, time = millis(now), peak = peakOf(at, scene);
  const lists = p.current.map(list => now.trace.in.map(v => between(list, p.reach, v)));
  const most = Math.max(...p.current.flatMap(list => [between(list, p.reach, peak), between(list, p.reach, -peak)]), 1e-4);
  const unit = most < 0.2 ? [1e3, "mA"] : [1, "A"];
  f.axes(time[0], time[time.length - 1], 0, round(1.05 * most), {left: unit[1], up: v => number(v * unit[0])});
  lists.forEach((list, i) => f.curve(["one", "two"][i], time, list));
  f.key(p.devices.map((name, i) => [["one", "two"][i], name]));
}

function drawTransfer(f, at, scene, now) {
  const p = scene.portrait, x = 1.25 * peakOf(at, scene), y = 1.05 * x * Math.abs(scene.gain), rest = between(p.out, p.reach, 0);
  f.axes(-x, x, -y, y, {across: v => number(v, 2), up: v => number(v, 2)})
    .band(-now.peak, now.peak)
    .curve("in", [-x * 0.999, x * 0.999], [-x * scene.gain, x * scene.gain])
    .curve("out", p.in, p.out.map(v => v - rest))
    .point("dot", now.input, between(p.out, p.reach, now.input) - rest)
    .key([["in", "a straight stage"], ["out", "this stage"]]);
}

function drawGain(f, at, scene, now) {
  const p = scene.portrait, x = 1.25 * peakOf(at, scene), sign = Math.sign(scene.gain) || 1;
  const gains = p.gain.map(g => g * sign);
  f.axes(-x, x, 0, 1.15 * Math.abs(scene.gain) || 1, {across: v => number(v, 2)})
    .band(-now.peak, now.peak).curve("out", p.in, gains)
    .point("dot", now.input, between(gains, p.reach, now.input));
}

function readout(at) {
  const scene = sceneOf(at), parts = [quantity(scene.bias, "V") + " of bias", quantity(scene.quiescent, "A", 2) + " at rest"];
  if (at === state.at && !state.paused && view && view.warmth && state.scene === scene) {
    parts.push("heat now " + quantity(view.warmth.devices.reduce((a, b) => a + b, 0), "W", 2));
  }
  if (scene.memory) parts.push("law of the middle frequencies");
  sections[at].querySelector(".readout").textContent = parts.join(" · ");
}

// legible keeps letters readable, however far a drawing shrinks.
function legible() {
  const least = innerWidth < 1000 ? 10 : document.documentElement.classList.contains("projector") ? 16.5 : 13;
  for (const svg of section().querySelectorAll("svg.schematic, svg.live")) {
    const box = svg.getBoundingClientRect(), wanted = svg.viewBox.baseVal;
    if (!box.width || !wanted.width) continue;
    const scale = Math.min(box.width / wanted.width, box.height / wanted.height);
    const [usual, most] = svg.matches(".live") ? [16, 21] : [19, 27];
    const size = Math.min(Math.max(usual, least / scale), most) + "px";
    if (svg.matches(".live")) svg.style.setProperty("--letters", size);
    else svg.querySelectorAll("text").forEach(t => { t.style.fontSize = size; });
  }
}

// ---- laws

const laws = new Map();

// lawOf returns the law of a scene, solved once.
function lawOf(scene) {
  if (scene.law) return Promise.resolve(scene.law);
  const key = JSON.stringify(scene.request);
  if (!laws.has(key)) laws.set(key, surveyor.call("solve", scene.request).then(([, bytes]) => bytes));
  return laws.get(key);
}

function controls() {
  const c = {...sound().controls, paused: state.paused, loop: true};
  if (state.source && !state.source.lesson) c.gain = 0; // followed while it runs
  if (moved[state.at] && state.chosen[state.at - 1] === slid(state.at)) c.gain = moved[state.at].gained || 0;
  return c;
}

let adopting = 0;

// adopt gives the player what is chosen.
async function adopt() {
  const mine = ++adopting;
  if (state.at === 0 || !player) return;
  const scene = sceneOf(state.at);
  try {
    const law = await lawOf(scene);
    if (mine !== adopting || !state.loaded) return;
    const before = state.scene;
    state.scene = scene;
    if (before && before.request.file === scene.request.file && before.request.drive === scene.request.drive) player.call("law", null, [law]);
    else player.call("stage", scene.request.drive, [law]);
    await player.call("controls", controls());
    predict();
  } catch (error) {
    say(error.message);
  }
}

// predict predicts what is heard of the chosen sound, where other music plays.
async function predict() {
  const s = sound(), at = state.at, index = state.chosen[at - 1], scene = sceneOf(at), source = state.source;
  if (!s.predicted || !source || (source.lesson && !moved[at])) return;
  if (source.lesson && index !== slid(at)) return;
  const line = sections[at].querySelectorAll(".says")[index];
  try {
    const law = await lawOf(scene);
    line.textContent = "predicting …";
    const from = source.lesson ? 0 : Math.floor((view ? view.position : 0) * source.rate), n = PREDICTED_SECONDS * source.rate;
    const part = source.audio.map(a => new Uint8Array(new Float32Array(a).slice(from, from + n).buffer));
    const asked = {channels: part.length, rate: source.rate, drive: scene.request.drive, controls: {...s.controls, gain: 0, loop: false, paused: false}, heard: data.heard};
    const [found] = await surveyor.call("predict", asked, [law, ...part]);
    if (sceneOf(at, index) !== scene || source !== state.source) return;
    line.textContent = found.peak_db === null || found.peak_db < -45 ? "next to silence comes out" : predicted(found.detection);
    if (moved[at] === scene) {
      scene.gained = found.match;
      if (at === state.at && state.chosen[at - 1] === index) await player.call("controls", controls());
    }
  } catch (error) {
    line.textContent = error.message;
  }
}

// predicted puts a share of detections into words, as the page's own text does.
function predicted(share) {
  const [word, chance] = inWords(share);
  return "predicted: " + word + " (" + chance + ")";
}

// ---- the bias slider

let moving = false, settling = 0;

async function slide() {
  const at = state.at, slider = section().querySelector(".bias-slider");
  const base = data.scenes[steps[at].sounds[slid(at)].scene];
  if (!sketcher) return;
  clearTimeout(settling);
  if (state.chosen[at - 1] !== slid(at)) pick(slid(at));
  if (moving) { moving = "again"; return; }
  moving = true;
  do {
    moving = true;
    const value = slider.value / 1000 * steps[at].maximum;
    const request = {...base.request, mode: "bias", value, quick: true};
    try {
      const [found, law] = await sketcher.call("solve", request, [], state.loaded && at === state.at ? Date.now() : 0);
      const [portrait] = await sketcher.call("portrait");
      takeMoved(at, base, {...request, quick: false}, found, law, portrait);
    } catch (error) {
      say(error.message);
    }
  } while (moving === "again");
  moving = false;
  settling = setTimeout(() => settle(at, base), SETTLE);
}

function takeMoved(at, base, request, found, law, portrait) {
  moved[at] = {...base, request, law, portrait, bias: found.bias, quiescent: found.quiescent, gain: base.gain};
  sections[at].querySelector(".bias output").textContent = quantity(found.bias, "V") + ", " + quantity(found.quiescent, "A", 2);
  if (state.loaded && at === state.at) {
    state.scene = moved[at];
    player.call("controls", controls());
  }
  draw(at);
  readout(at);
}

// settle solves in full what the slider rests at, and predicts it.
async function settle(at, base) {
  const wanted = moved[at];
  try {
    const [found, law] = await surveyor.call("solve", wanted.request);
    const [portrait] = await surveyor.call("portrait");
    if (moved[at] !== wanted) return;
    if (state.loaded && at === state.at) player.call("law", null, [law]);
    takeMoved(at, base, wanted.request, found, law, portrait);
    if (at === state.at) await predict();
  } catch (error) {
    say(error.message);
  }
}

// ---- the sound

function pick(index) {
  const buttons = section().querySelectorAll(".play");
  if (index >= buttons.length) return;
  state.chosen[state.at - 1] = index;
  dress(state.at);
  legible();
  return adopt();
}

async function use(make) {
  if (state.busy) return;
  state.busy = true;
  byId("toggle").disabled = true;
  say("Preparing the music …");
  try {
    await pause();
    state.loaded = false;
    state.source = await make();
    await load();
    say(state.source.notes || "");
  } catch (error) {
    say(error.message);
  }
  byId("toggle").disabled = !state.loaded;
  state.busy = false;
}

async function load() {
  const s = state.source, first = Math.max(state.at, 1), scene = sceneOf(first), law = await lawOf(scene);
  const programme = {channels: s.audio.length, rate: s.rate, drive: scene.request.drive, controls: {...steps[first].sounds[0].controls, paused: true}};
  await player.call("load", programme, [law, ...s.audio.map(a => new Uint8Array(a))]);
  state.loaded = true;
  state.scene = scene;
  await deck.runIn(() => law);
  if (state.at > 0) await adopt();
}

async function lessonMusic() {
  const e = data.excerpt;
  const [, ...audio] = await surveyor.call("generate", {name: e.piece, rate: e.rate, seed: e.seed});
  const cut = audio.map(a => new Float32Array(a.buffer).slice(e.from, e.from + e.frames).map(v => v * e.gain).buffer);
  return {lesson: true, rate: e.rate, audio: cut};
}

async function otherMusic(name) {
  const [, ...audio] = await surveyor.call("generate", {name, rate: MUSIC_RATE, seed: data.excerpt.seed});
  return {rate: MUSIC_RATE, audio: audio.map(a => a.buffer)};
}

function ownMusic() {
  const bytes = Uint8Array.from(atob(byId("own").textContent.trim()), c => c.charCodeAt(0));
  return decoded(surveyor, data.own, bytes.buffer);
}

function choosePiece() {
  const name = byId("piece").value;
  if (name === "lesson") return use(lessonMusic);
  if (name === "own") return use(ownMusic);
  return use(() => otherMusic(name));
}

function chooseFile(file) {
  const option = byId("own-piece");
  option.hidden = false;
  option.textContent = file.name;
  byId("piece").value = "file";
  return use(async () => decoded(surveyor, file.name, await file.arrayBuffer()));
}

async function play() {
  if (!state.loaded || state.busy) return;
  if (state.at === 0) turn(1);
  await deck.open(state.source.rate);
  state.paused = false;
  byId("toggle").textContent = "Pause";
  say("");
  await adopt();
  look();
}

async function pause() {
  byId("toggle").textContent = "Play";
  if (state.paused) return;
  state.paused = true;
  await player.call("controls", controls());
  await new Promise(done => setTimeout(done, 120));
  if (state.paused && deck.context) await deck.context.suspend();
  if (state.at > 0) dress(state.at);
}

let looking = 0, rest = LOOKS, missed = 0;
function look() {
  clearTimeout(looking);
  looking = setTimeout(async () => {
    if (state.paused || !state.loaded) return;
    const began = performance.now(), scene = state.scene;
    const portrait = scene === given ? undefined : scene.portrait;
    given = scene;
    try {
      view = await deck.look({seconds: TIME_SHOWN, spectra: false, portrait});
      if (state.at > 0) {
        draw(state.at);
        readout(state.at);
      }
    } catch (error) {
      say(error.message);
    }
    rest = deck.missed > missed ? Math.min(2 * rest, 1000) : Math.max(LOOKS, performance.now() - began, 0.9 * rest);
    missed = deck.missed;
    look();
  }, rest);
}

// ---- what is done with the page

function save(button) {
  const box = button.closest("figure").querySelector(".stagebox");
  const svg = [...box.querySelectorAll("svg")].find(e => e.getBoundingClientRect().width > 0);
  if (svg) keep("quietcross-" + section().id + "-" + (button.closest(".moving") ? figureOf(state.at) : "circuit") + ".svg", standalone(svg, section().querySelector("h2").textContent), "image/svg+xml");
}

function reveal() {
  const button = section().querySelector(".reveal"), answer = section().querySelector(".answer");
  if (!button) return;
  answer.hidden = !answer.hidden;
  button.setAttribute("aria-expanded", !answer.hidden);
}

function project() {
  const on = document.documentElement.classList.toggle("projector");
  byId("projector").setAttribute("aria-pressed", on);
  legible();
}

function press(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const slider = event.target.matches("input[type=range]"), writing = event.target.matches("select, input[type=file]");
  if (writing) return;
  const key = event.key.toLowerCase();
  if (key === " ") {
    if (event.target.matches("button, a")) return;
    event.preventDefault();
    if (state.paused) play(); else pause();
  } else if (!slider && (key === "arrowright" || key === "pagedown")) {
    event.preventDefault();
    turn(state.at + 1);
  } else if (!slider && (key === "arrowleft" || key === "pageup")) {
    event.preventDefault();
    turn(state.at - 1);
  } else if (/^[1-9]$/.test(key) && state.at > 0) {
    pick(Number(key) - 1);
  } else if (key === "b" && section().querySelector(".bias-slider")) {
    section().querySelector(".bias-slider").focus();
  } else if (key === "f" && state.at > 0) {
    cycle();
  } else if (key === "a") {
    reveal();
  } else if (key === "p") {
    project();
  } else if (key === "escape" && document.activeElement) {
    document.activeElement.blur();
  }
}

function listen() {
  byId("previous").addEventListener("click", () => turn(state.at - 1));
  byId("next").addEventListener("click", () => turn(state.at + 1));
  byId("toggle").addEventListener("click", () => state.paused ? play() : pause());
  byId("projector").addEventListener("click", project);
  byId("piece").addEventListener("change", choosePiece);
  byId("file").addEventListener("change", () => { if (byId("file").files.length) chooseFile(byId("file").files[0]); });
  byId("volume").addEventListener("input", () => {
    const v = byId("volume"), off = v.value === v.min;
    byId("volume-text").textContent = off ? "off" : decibels(Number(v.value), 0);
    state.volume = off ? 0 : 10 ** (v.value / 20);
    if (deck) deck.setVolume(state.volume);
  });
  sections.forEach((s, at) => {
    s.querySelectorAll(".play").forEach((b, i) => b.addEventListener("click", async () => {
      if (!state.paused && i === state.chosen[at - 1]) return pause();
      await pick(i);
      if (state.paused) play();
    }));
    s.querySelectorAll(".tab").forEach(t => t.addEventListener("click", () => { choose(at, t.dataset.figure); legible(); }));
    s.querySelectorAll("button.svg").forEach(b => b.addEventListener("click", () => save(b)));
    const slider = s.querySelector(".bias-slider"), answer = s.querySelector(".reveal");
    if (slider) slider.addEventListener("input", slide);
    if (answer) answer.addEventListener("click", reveal);
  });
  document.querySelectorAll(".contents a").forEach((a, i) => a.addEventListener("click", event => { event.preventDefault(); turn(i + 1); }));
  addEventListener("keydown", press);
  addEventListener("resize", legible);
  addEventListener("dragover", event => { event.preventDefault(); document.body.classList.add("dropping"); });
  addEventListener("dragleave", event => { if (!event.relatedTarget) document.body.classList.remove("dropping"); });
  addEventListener("drop", event => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    if (event.dataTransfer.files.length) chooseFile(event.dataTransfer.files[0]);
  });
}

async function start() {
  steps.forEach((s, at) => { if (s) dress(at); });
  listen();
  turn(Math.max(0, sections.findIndex(s => "#" + s.id === location.hash)));
  try {
    const compiled = await unpack();
    [sketcher, surveyor, player] = [0, 1, 2].map(() => new Engine(compiled));
    deck = new Deck(player, surveyor, sketcher);
    deck.setVolume(state.volume);
    await Promise.all([sketcher, surveyor, player].map(e => e.ready));
    state.busy = false;
    await choosePiece();
    say("");
    document.body.dataset.after = Math.round(performance.now());
    document.body.dataset.ready = "yes";
    for (const scene of data.scenes) await lawOf(scene); // so that no sound waits for its stage
    document.body.dataset.solved = "yes";
  } catch (error) {
    say("The engine does not start: " + error.message);
  }
}
start();
