// The page: figures that move, decks that play, and the bias slider.

const scenes = JSON.parse(document.getElementById("scenes").textContent);
const sections = [...document.querySelectorAll("section[data-scene]")];
const scopes = sections.map(section => new Scope(section, scenes[section.dataset.scene]));

// The dots move while their section is in view, unless the reader wants less
// motion.
const inView = new Set();
const observer = new IntersectionObserver(entries => {
  for (const e of entries) inView[e.isIntersecting ? "add" : "delete"](scopes[sections.indexOf(e.target)]);
});
sections.forEach(section => observer.observe(section));
function animate(now) {
  for (const scope of inView) scope.move(now / 5000 % 1);
  requestAnimationFrame(animate);
}
if (!matchMedia("(prefers-reduced-motion: reduce)").matches) requestAnimationFrame(animate);

let context = null, master = null, playing = null, used = null;
const volume = document.getElementById("volume"), stopButton = document.getElementById("stop");

function setVolume() {
  const decibels = Number(volume.value);
  document.getElementById("volume-text").textContent = "−" + -decibels + " dB";
  if (master) fade(master.gain, Math.pow(10, decibels / 20), context.currentTime);
}
volume.addEventListener("input", setVolume);
setVolume();

// sound returns the context, made at the first gesture.
function sound() {
  if (!context) {
    context = new AudioContext({sampleRate: RATE});
    master = context.createGain();
    master.gain.value = Math.pow(10, Number(volume.value) / 20);
    master.connect(context.destination);
  }
  return context;
}

// Panel is a deck with its buttons. tracks returns its tracks for a piece.
class Panel {
  constructor(root, tracks) {
    this.root = root;
    this.tracks = tracks;
    this.decks = new Map();
    this.piece = 0;
    this.track = 0;
    this.button = root.querySelector(".play");
    this.level = null;
    this.button.addEventListener("click", () => this.toggle());
  }

  get deck() { return this.decks.get(this.piece); }

  load() {
    if (this.deck) return;
    if (!this.level) {
      this.level = sound().createGain();
      this.level.connect(master);
    }
    this.decks.set(this.piece, new Deck(sound(), this.tracks(this.piece), this.level));
  }

  async toggle() {
    used = this;
    if (playing === this) {
      stop();
      return;
    }
    stop();
    this.load();
    await sound().resume();
    this.deck.track = this.track;
    this.deck.start(sound().currentTime + LEAD);
    playing = this;
    this.button.textContent = "Stop";
    stopButton.disabled = false;
  }

  choose(track) {
    this.track = track;
    if (playing === this) this.deck.choose(track);
  }

  choosePiece(piece) {
    const was = playing === this;
    if (was) stop();
    this.piece = piece;
    if (was) this.toggle();
  }
}

function stop() {
  if (!playing) return;
  playing.deck.stop();
  playing.button.textContent = "Play";
  playing = null;
  stopButton.disabled = true;
}
stopButton.addEventListener("click", stop);

// The steps: the input of the page, and the step's own output loud and soft.
for (const root of document.querySelectorAll(".listen")) {
  const number = root.dataset.deck;
  const panel = new Panel(root, piece => {
    const outputs = soundBlock(number);
    return [soundBlock(0)[piece], outputs[2 * piece], outputs[2 * piece + 1]];
  });
  panel.piece = 1;
  panel.radios = [...root.querySelectorAll("input[name^=track]")];
  root.addEventListener("change", e => {
    used = panel;
    if (e.target.name.startsWith("piece")) panel.choosePiece(Number(e.target.value));
    else panel.choose(Number(e.target.value));
  });
}

// The bias slider.
const bias = document.getElementById("bias"), reference = document.getElementById("reference"), trueLevel = document.getElementById("true-level");
const slider = document.querySelector(".slider");
const rows = [...document.querySelectorAll("#ladder tbody tr")];
const ladder = new Panel(slider, () => soundBlock(scenes.length));
const ladderScope = scopes[scopes.length - 1];

function setBias() {
  const rung = Number(bias.value), cells = [...rows[rung].children].map(c => c.textContent);
  ladder.choose(reference.checked ? 0 : rung + 1);
  ladderScope.choose(rung);
  rows.forEach((row, i) => row.classList.toggle("current", i === rung));
  document.getElementById("bias-text").textContent = cells[0] + " · " + cells[1] + " at rest · junction " + cells[2] + " · predicted to be heard: " + cells[5];
  bias.setAttribute("aria-valuetext", cells[0] + ", junction " + cells[2] + ", predicted to be heard " + cells[5]);
}
bias.addEventListener("input", setBias);
reference.addEventListener("change", setBias);
trueLevel.addEventListener("change", () => {
  sound();
  ladder.load();
  fade(ladder.level.gain, trueLevel.checked ? Math.pow(10, -Number(slider.dataset.makeup) / 20) : 1, context.currentTime);
});
slider.addEventListener("input", () => { used = ladder; });
setBias();

document.addEventListener("keydown", e => {
  if (e.ctrlKey || e.altKey || e.metaKey) return;
  const tag = e.target.tagName;
  if (e.key === " " && tag !== "BUTTON" && tag !== "SUMMARY" && !(tag === "INPUT" && e.target.type !== "range") && used) {
    e.preventDefault();
    used.toggle();
  }
  const track = "123".indexOf(e.key);
  if (track >= 0 && used && used.radios) {
    used.radios[track].checked = true;
    used.choose(track);
  }
});

// On paper every answer is open.
addEventListener("beforeprint", () => document.querySelectorAll("details").forEach(d => { d.open = true; }));
