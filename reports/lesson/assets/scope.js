// The moving figures: time, transfer, currents and harmonics of a stage with a
// tone, all from its sampled law.

const W = 460, H = 270; // size of a figure, user units
const AREA = {x: 72, y: 26, w: 376, h: 206};
const CYCLES = 2;
const POINTS = 400; // of a curve
const ORDERS = 12;
const FLOOR = -90; // dB, of the harmonics
const NOTHING = 1e-3; // of what a straight line would give
const SVG = "http://www.w3.org/2000/svg";

// lookUp reads a list that was sampled at inputs span·drive·u³, u from -1 to 1.
function lookUp(list, law, span, volts) {
  const u = Math.min(Math.max(Math.cbrt(volts / (span * law.drive)), -1), 1);
  const at = (u + 1) / 2 * (list.length - 1);
  const i = Math.min(Math.floor(at), list.length - 2);
  return list[i] + (list[i + 1] - list[i]) * (at - i);
}

// harmonics returns the amplitudes of orders 0 to ORDERS of the output.
function harmonics(law, span, peak) {
  const n = 2048;
  const re = new Float64Array(ORDERS + 1), im = new Float64Array(ORDERS + 1);
  for (let i = 0; i < n; i++) {
    const phase = 2 * Math.PI * i / n;
    const y = lookUp(law.out, law, span, peak * Math.sin(phase));
    for (let k = 0; k <= ORDERS; k++) {
      re[k] += y * Math.cos(k * phase);
      im[k] += y * Math.sin(k * phase);
    }
  }
  return Array.from(re, (r, k) => Math.hypot(r, im[k]) * (k ? 2 : 1) / n);
}

// between reads a list of values at volumes in dB.
function between(volumes, list, decibels) {
  let i = volumes.findIndex(v => v >= decibels);
  if (i < 0) i = volumes.length - 1;
  if (i === 0) return list[0];
  const part = (decibels - volumes[i - 1]) / (volumes[i] - volumes[i - 1]);
  return list[i - 1] + (list[i] - list[i - 1]) * part;
}

// quantity writes a value with a prefix and two or three digits.
function quantity(value, unit) {
  const size = Math.abs(value);
  if (size < 1e-6) return "0 " + unit;
  const [scale, prefix] = [[1, ""], [1e-3, "m"], [1e-6, "µ"]].find(([s]) => size >= 0.9995 * s) || [1e-6, "µ"];
  return (value / scale).toPrecision(3).replace("-", "−") + " " + prefix + unit;
}

// percent writes a ratio to two digits, never as a power of ten.
function percent(ratio) {
  return (ratio < 1e-4 ? "under 0.01" : String(Number((100 * ratio).toPrecision(2)))) + " %";
}

function element(name, attributes, parent) {
  const e = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
  parent.append(e);
  return e;
}

function say(parent, x, y, text, anchor = "start") {
  element("text", {x, y, "text-anchor": anchor}, parent).textContent = text;
}

// clear empties a figure and draws its frame and titles.
function clear(svg, title, below) {
  svg.replaceChildren();
  svg.setAttribute("viewBox", "0 0 " + W + " " + H);
  element("rect", {class: "frame", x: AREA.x, y: AREA.y, width: AREA.w, height: AREA.h}, svg);
  say(svg, AREA.x, 17, title);
  say(svg, AREA.x + AREA.w / 2, H - 8, below, "middle");
}

const across = (v, lo, hi) => AREA.x + AREA.w * (v - lo) / (hi - lo);
const up = (v, lo, hi) => AREA.y + AREA.h * (1 - (v - lo) / (hi - lo));

// curve draws a path through points that stay within the frame.
function curve(svg, kind, points) {
  const inside = points.map(([x, y]) => [x, Math.min(Math.max(y, AREA.y), AREA.y + AREA.h)]);
  element("path", {class: kind, d: "M" + inside.map(([x, y]) => x.toFixed(1) + " " + y.toFixed(1)).join("L")}, svg);
}

// key writes what the kinds of line are, from the right.
function key(svg, entries) {
  let x = W - 16;
  for (const [kind, text] of entries.reverse()) {
    x -= 7.6 * text.length;
    say(svg, x, 17, text);
    element("path", {class: kind, d: "M" + (x - 34) + " 12h28"}, svg);
    x -= 46;
  }
}

function line(svg, x1, y1, x2, y2) {
  element("path", {class: "axis", d: "M" + x1 + " " + y1 + "L" + x2 + " " + y2}, svg);
}

class Scope {
  constructor(section, scene) {
    this.section = section;
    this.scene = scene;
    this.rung = scene.start;
    this.decibels = scene.level;
    this.panels = {};
    for (const svg of section.querySelectorAll("svg.scope")) this.panels[svg.dataset.panel] = svg;
    this.readout = section.querySelector(".readout");
    this.slider = section.querySelector(".level input");
    this.slider.value = this.decibels;
    this.slider.addEventListener("input", () => {
      this.decibels = Number(this.slider.value);
      this.draw();
    });
    this.draw();
  }

  get law() { return this.scene.laws[this.rung]; }
  get peak() { return this.law.drive * Math.pow(10, this.decibels / 20); }
  out(volts) { return lookUp(this.law.out, this.law, this.scene.span, volts); }

  draw() {
    this.section.querySelector(".level output").textContent = (this.decibels < 0 ? "−" : "") + Math.abs(this.decibels) + " dB";
    this.time();
    this.transfer();
    this.currents();
    this.spectrum();
    this.move(0.13);
  }

  // scale is half of the height of the voltage figures, V.
  scale() {
    let most = this.law.gain * this.peak;
    for (let i = 0; i <= 64; i++) most = Math.max(most, Math.abs(this.out(this.peak * (i / 32 - 1))));
    return 1.12 * most;
  }

  time() {
    const svg = this.panels.time, v = this.scale(), {law, peak} = this;
    clear(svg, "Volts", "time, two cycles");
    line(svg, AREA.x, up(0, -v, v), AREA.x + AREA.w, up(0, -v, v));
    say(svg, AREA.x - 5, AREA.y + 12, quantity(v, "V").replace(" V", ""), "end");
    say(svg, AREA.x - 5, up(0, -v, v) + 5, "0", "end");
    const steps = Array.from({length: POINTS + 1}, (_, i) => i / POINTS);
    const input = t => peak * Math.sin(2 * Math.PI * CYCLES * t);
    curve(svg, "in", steps.map(t => [across(t, 0, 1), up(law.gain * input(t), -v, v)]));
    curve(svg, "out", steps.map(t => [across(t, 0, 1), up(this.out(input(t)), -v, v)]));
    key(svg, [["in", "input, to scale"], ["out", "output"]]);
    this.dotTime = element("circle", {r: 6}, svg);
  }

  transfer() {
    const svg = this.panels.transfer, v = this.scale(), x = 1.08 * this.peak;
    clear(svg, "Output, volts", "input, ±" + quantity(x, "V"));
    line(svg, AREA.x, up(0, -v, v), AREA.x + AREA.w, up(0, -v, v));
    line(svg, across(0, -1, 1), AREA.y, across(0, -1, 1), AREA.y + AREA.h);
    say(svg, AREA.x - 5, AREA.y + 12, quantity(v, "V").replace(" V", ""), "end");
    const steps = Array.from({length: POINTS + 1}, (_, i) => 2 * i / POINTS - 1);
    curve(svg, "in", [-1, 1].map(u => [across(u, -1, 1), up(this.law.gain * u * x, -v, v)]));
    curve(svg, "out", steps.map(u => [across(u, -1, 1), up(this.out(u * x), -v, v)]));
    this.dotTransfer = element("circle", {r: 6}, svg);
  }

  currents() {
    const svg = this.panels.currents, {law, peak} = this;
    const at = (k, t) => lookUp(law.currents[k], law, this.scene.span, peak * Math.sin(2 * Math.PI * CYCLES * t));
    const steps = Array.from({length: POINTS + 1}, (_, i) => i / POINTS);
    let most = 1e-6;
    law.currents.forEach((_, k) => steps.forEach(t => { most = Math.max(most, at(k, t)); }));
    most *= 1.12;
    clear(svg, "Currents", "time, two cycles");
    say(svg, AREA.x - 5, AREA.y + 12, quantity(most, "A"), "end");
    say(svg, AREA.x - 5, AREA.y + AREA.h, "0", "end");
    const kinds = ["one", "two"], names = law.currents.length > 1 ? ["upper", "lower"] : ["transistor"];
    law.currents.forEach((_, k) => curve(svg, kinds[k], steps.map(t => [across(t, 0, 1), up(at(k, t), 0, most)])));
    key(svg, law.currents.map((_, k) => [kinds[k], names[k]]));
    this.currentAt = (k, t) => up(at(k, t), 0, most);
    this.dotsCurrents = law.currents.map(() => element("circle", {r: 6}, svg));
  }

  spectrum() {
    const svg = this.panels.harmonics, h = harmonics(this.law, this.scene.span, this.peak);
    clear(svg, "Harmonics, dB re the tone", "order");
    for (const level of [-20, -40, -60, -80]) {
      line(svg, AREA.x, up(level, FLOOR, 5), AREA.x + AREA.w, up(level, FLOOR, 5));
      say(svg, AREA.x - 5, up(level, FLOOR, 5) + 5, "−" + -level, "end");
    }
    const base = AREA.y + AREA.h;
    let rest = 0;
    this.nothing = h[1] < NOTHING * this.law.gain * this.peak;
    if (this.nothing) say(svg, AREA.x + AREA.w / 2, AREA.y + AREA.h / 2, "next to nothing comes out", "middle");
    for (let k = 1; k <= ORDERS && !this.nothing; k++) {
      const level = 20 * Math.log10(Math.max(h[k] / Math.max(h[1], 1e-30), 1e-9));
      const y = Math.min(up(level, FLOOR, 5), base);
      const x = AREA.x + AREA.w * (k - 0.5) / ORDERS;
      element("rect", {class: "bar1", x: x - 10, y, width: 20, height: base - y}, svg);
      say(svg, x, base + 15, String(k), "middle");
      if (k > 1) rest += h[k] * h[k];
    }
    this.thd = Math.sqrt(rest) / Math.max(h[1], 1e-30);
    this.tell(h[1]);
  }

  tell(fundamental) {
    const {law, decibels} = this;
    const power = list => between(law.volumes, list, decibels);
    const output = this.nothing ? ["next to nothing comes out"]
      : ["output " + quantity(fundamental, "V") + " peak", "harmonics " + percent(this.thd)];
    this.readout.textContent = [...output, "load " + quantity(power(law.load), "W"),
      "drawn " + quantity(power(law.supply), "W"), "heat " + quantity(power(law.heat), "W")].join(" · ");
  }

  // move puts the dots at a time, 0 to 1 over the figure.
  move(t) {
    const v = this.scale(), volts = this.peak * Math.sin(2 * Math.PI * CYCLES * t), y = up(this.out(volts), -v, v);
    const put = (dot, x, y) => { dot.setAttribute("cx", x); dot.setAttribute("cy", y); };
    put(this.dotTime, across(t, 0, 1), y);
    put(this.dotTransfer, across(volts / (1.08 * this.peak), -1, 1), y);
    this.dotsCurrents.forEach((dot, k) => put(dot, across(t, 0, 1), this.currentAt(k, t)));
  }

  choose(rung) {
    this.rung = rung;
    this.draw();
  }
}
