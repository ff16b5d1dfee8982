// The controls: which item, which biases, and the parts of each player.

const data = JSON.parse(document.getElementById("data").textContent);
const players = data.items.map((item, i) => new Player(i, item));
let current = -1;

function show(index) {
  if (index === current || !players[index]) return;
  if (players[current]) players[current].pause();
  current = index;
  document.querySelectorAll("article").forEach(article => {
    article.classList.toggle("current", Number(article.dataset.item) === index);
  });
  document.querySelectorAll(".index a").forEach(link => {
    if (link.getAttribute("href") === "#item-" + index) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  });
  paint(index);
}

function follow() {
  const match = /^#item-(\d+)$/.exec(location.hash);
  if (!match) return;
  show(Number(match[1]));
  const article = document.getElementById("item-" + match[1]);
  if (article) article.scrollIntoView();
}

const switches = [...document.querySelectorAll("[data-switch]")];
switches.forEach(box => {
  const index = box.dataset.switch;
  const label = box.parentElement;
  const only = on => document.body.classList.toggle("only-" + index, on && box.checked);
  box.addEventListener("change", () => {
    document.body.classList.toggle("off-" + index, !box.checked);
    only(false);
  });
  label.addEventListener("mouseenter", () => only(true));
  label.addEventListener("mouseleave", () => only(false));
});
document.getElementById("all").addEventListener("click", () => {
  switches.forEach(box => {
    box.checked = true;
    box.dispatchEvent(new Event("change"));
  });
});

const part = (index, selector) => document.querySelector("#item-" + index + " .player " + selector);

// paint draws the envelope of the reference into the timeline.
function paint(index) {
  const player = players[index];
  const canvas = part(index, "canvas");
  const width = canvas.clientWidth;
  if (!player.buffers || !width) return;
  canvas.width = width;
  const height = canvas.height;
  const samples = player.buffers[0].getChannelData(0);
  const pen = canvas.getContext("2d");
  pen.fillStyle = getComputedStyle(canvas).color;
  pen.globalAlpha = 0.5;
  let most = 1e-9;
  for (const v of samples) most = Math.max(most, Math.abs(v));
  for (let x = 0; x < width; x++) {
    const end = Math.floor((x + 1) * samples.length / width);
    let low = 0;
    let high = 0;
    for (let i = Math.floor(x * samples.length / width); i < end; i++) {
      low = Math.min(low, samples[i]);
      high = Math.max(high, samples[i]);
    }
    const top = height / 2 * (1 - high / most);
    pen.fillRect(x, top, 1, Math.max(height / 2 * (1 - low / most) - top, 1));
  }
}

function update(index) {
  const player = players[index];
  const play = part(index, ".play");
  play.textContent = player.playing ? "Pause" : "Play";
  play.setAttribute("aria-pressed", String(player.playing));
  part(index, ".loop").setAttribute("aria-pressed", String(player.looping));
  document.querySelectorAll("#item-" + index + " .track").forEach(button => {
    button.setAttribute("aria-pressed", String(Number(button.dataset.track) === player.track));
  });
  const stretch = part(index, ".stretch");
  stretch.style.display = player.stretch ? "block" : "none";
  if (player.stretch) {
    stretch.style.left = 100 * player.stretch[0] / player.duration + "%";
    stretch.style.width = 100 * (player.stretch[1] - player.stretch[0]) / player.duration + "%";
  }
  move(index);
  say(index);
}

// move shows the position.
function move(index) {
  const player = players[index];
  const position = player.position();
  part(index, ".head").style.left = 100 * position / player.duration + "%";
  const text = position.toFixed(1) + " s of " + player.duration.toFixed(1) + " s";
  part(index, ".time").textContent = text;
  const slider = part(index, ".timeline");
  slider.setAttribute("aria-valuemax", player.duration.toFixed(1));
  slider.setAttribute("aria-valuenow", position.toFixed(1));
  slider.setAttribute("aria-valuetext", text);
}

function say(index) {
  const player = players[index];
  const track = player.item.tracks[player.track];
  let text = track.name;
  if (track.makeUp) {
    text += player.trueLevel ? ", at its true level" : ", raised by " + track.makeUp.toFixed(0) + " dB";
  }
  if (player.failure) text = player.failure;
  else if (player.loading) text = "Loading the sound.";
  else if (!player.buffers) text = "Press Play to load the sound.";
  if (player.note) text += ". " + player.note;
  const status = part(index, ".status");
  if (status.textContent !== text) status.textContent = text;
}

const LEAD_IN = 0.5; // seconds heard before the worst moment

const KEPT = 3; // items whose sound stays in memory
const recent = []; // their indices, the latest last

function remember(index) {
  const before = recent.indexOf(index);
  if (before >= 0) recent.splice(before, 1);
  recent.push(index);
  while (recent.length > KEPT) players[recent.shift()].unload();
}

async function toggle(index) {
  const player = players[index];
  if (player.playing) {
    player.pause();
    return;
  }
  const fresh = !player.buffers;
  try {
    const started = player.play();
    say(index);
    await started;
    player.failure = "";
    remember(index);
  } catch (failure) {
    player.failure = "No sound: " + failure.message + ".";
  }
  if (fresh) paint(index);
  say(index);
}

// keys holds what each key does in a player.
function pressed(index, event) {
  const player = players[index];
  const digit = /^Digit(\d)$/.exec(event.code);
  const end = player.stretch ? player.stretch : [0, player.duration];
  const at = player.position();
  if (event.ctrlKey || event.altKey || event.metaKey) return false;
  if (digit) {
    const number = Number(digit[1]);
    player.select(number === 0 ? 0 : 2 * number - (event.shiftKey ? 0 : 1));
  } else if (event.key === " ") toggle(index);
  else if (event.key === "ArrowLeft") player.seek(at - 1);
  else if (event.key === "ArrowRight") player.seek(at + 1);
  else if (event.key === "ArrowUp") player.select(player.track - 1);
  else if (event.key === "ArrowDown") player.select(player.track + 1);
  else if (event.key === "[") player.setLoop([at, end[1] > at ? end[1] : player.duration], true);
  else if (event.key === "]") player.setLoop([end[0] < at ? end[0] : 0, at], true);
  else if (event.key === "l" || event.key === "L") player.setLoop(player.stretch, !player.looping);
  else return false;
  return true;
}

// drag chooses a stretch of the timeline; a click moves there.
function drag(index, slider) {
  const player = players[index];
  const place = event => {
    const box = slider.getBoundingClientRect();
    return player.duration * Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1);
  };
  let from = null;
  slider.addEventListener("pointerdown", event => {
    from = {x: event.clientX, at: place(event)};
    slider.setPointerCapture(event.pointerId);
  });
  slider.addEventListener("pointerup", event => {
    if (!from) return;
    const to = place(event);
    if (Math.abs(event.clientX - from.x) < 5) player.seek(to);
    else player.setLoop([Math.min(from.at, to), Math.max(from.at, to)], true);
    from = null;
  });
}

function connect(index) {
  const player = players[index];
  const root = document.querySelector("#item-" + index + " .player");
  player.changed = () => update(index);
  part(index, ".play").addEventListener("click", () => toggle(index));
  part(index, ".loop").addEventListener("click", () => player.setLoop(player.stretch, !player.looping));
  part(index, ".volume").addEventListener("input", event => player.setVolume(Number(event.target.value)));
  part(index, ".true-level").addEventListener("change", event => {
    player.trueLevel = event.target.checked;
    player.applyLevels();
  });
  root.querySelectorAll(".track").forEach(button => {
    button.addEventListener("click", () => player.select(Number(button.dataset.track)));
  });
  root.querySelectorAll("button.worst").forEach(button => {
    button.addEventListener("click", () => {
      player.select(Number(button.dataset.track));
      player.seek(Number(button.dataset.at) - LEAD_IN);
    });
  });
  drag(index, part(index, ".timeline"));
  root.addEventListener("keydown", event => {
    const own = event.target.closest("input, a, .play, .loop");
    if (own && (event.key === " " || event.key.startsWith("Arrow"))) return;
    if (pressed(index, event)) event.preventDefault();
  });
  root.addEventListener("keyup", event => {
    // A space that played must not press the button of a track as well.
    if (event.key === " " && event.target.closest(".track")) event.preventDefault();
  });
}

// The drawing of the circuit: one bias at a time.
const drawn = [...document.querySelectorAll("[data-drawing]")];
drawn.forEach(button => button.addEventListener("click", () => {
  const chosen = button.dataset.drawing;
  drawn.forEach(other => other.setAttribute("aria-pressed", String(other === button)));
  document.querySelectorAll("[data-drawn]").forEach(figure => {
    figure.classList.toggle("chosen", figure.dataset.drawn === chosen);
  });
}));

players.forEach((_, i) => {
  connect(i);
  update(i);
});
setInterval(() => {
  const player = players[current];
  if (player && player.playing) {
    player.tick();
    move(current);
  }
}, 60);
window.addEventListener("hashchange", follow);
window.addEventListener("resize", () => players[current] && paint(current));
document.body.classList.add("scripted");
follow();
if (current < 0) show(0);
