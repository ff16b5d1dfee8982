// The figures: each is an SVG that is drawn anew as often as the sound is looked at.

const SVG = "http://www.w3.org/2000/svg";
const WIDE = 520, HIGH = 300;
const BOX = {x: 72, y: 30, w: 434, h: 214};

function node(name, attributes, parent) {
  const e = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
  if (parent) parent.append(e);
  return e;
}

// number writes a value to a few digits, with a true minus.
function number(value, digits = 3) {
  if (!Number.isFinite(value)) return "–";
  return String(Number(value.toPrecision(digits))).replace("-", "−");
}

const PREFIXES = [[1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"]];

// quantity writes a value with its unit and a prefix.
function quantity(value, unit, digits = 3) {
  const size = Math.abs(value);
  if (!(size >= 1e-9)) return "0 " + unit;
  const [scale, prefix] = PREFIXES.find(([s]) => size >= 0.9995 * s) || PREFIXES[3];
  return number(value / scale, digits) + " " + prefix + unit;
}

const decibels = (value, digits = 1) => (Math.round(value * 10 ** digits) / 10 ** digits).toFixed(digits).replace("-", "−").replace("−0.0", "0.0") + " dB";

// round returns the next of 1, 2, 5 times a power of ten at or above a value.
function round(value) {
  const power = 10 ** Math.floor(Math.log10(value));
  return [1, 2, 5, 10].find(m => m * power >= value * 0.999999) * power;
}

// ticks returns about five even values from lo to hi.
function ticks(lo, hi, count = 5) {
  const step = round((hi - lo) / count);
  const list = [];
  for (let v = Math.ceil(lo / step - 1e-9); v * step <= hi + step * 1e-9; v++) list.push(v * step);
  return list;
}

// A Figure has two axes and draws curves between them.
class Figure {
  constructor(svg, {below, left, log = false}) {
    Object.assign(this, {svg, below, left, log, seen: true});
    // What is scrolled away is not drawn.
    new IntersectionObserver(list => { this.seen = list[list.length - 1].isIntersecting; }).observe(svg);
    svg.setAttribute("viewBox", `0 0 ${WIDE} ${HIGH}`);
    this.frame = "";
  }

  // axes sets the ranges; grid and numbers are drawn again only when they change.
  axes(x0, x1, y0, y1, {across = v => number(v), up = v => number(v), xTicks, yTicks, below = this.below, left = this.left} = {}) {
    Object.assign(this, {x0, x1, y0, y1});
    const key = [x0, x1, y0, y1, below, left].join();
    if (key === this.frame) {
      this.ink.replaceChildren();
      return this;
    }
    this.frame = key;
    this.svg.replaceChildren();
    const back = node("g", {}, this.svg);
    for (const v of xTicks || ticks(x0, x1)) {
      node("path", {class: "grid", d: `M${this.x(v).toFixed(1)} ${BOX.y}v${BOX.h}`}, back);
      this.text(back, this.x(v), BOX.y + BOX.h + 20, across(v), "middle", "tick");
    }
    for (const v of yTicks || ticks(y0, y1)) {
      node("path", {class: "grid", d: `M${BOX.x} ${this.y(v).toFixed(1)}h${BOX.w}`}, back);
      this.text(back, BOX.x - 6, this.y(v) + 4, up(v), "end", "tick");
    }
    if (x0 < 0 && x1 > 0) node("path", {class: "zero", d: `M${this.x(0)} ${BOX.y}v${BOX.h}`}, back);
    if (y0 < 0 && y1 > 0) node("path", {class: "zero", d: `M${BOX.x} ${this.y(0)}h${BOX.w}`}, back);
    node("rect", {class: "frame", x: BOX.x, y: BOX.y, width: BOX.w, height: BOX.h}, back);
    this.text(back, BOX.x + BOX.w / 2, HIGH - 8, below, "middle");
    const side = this.text(back, 0, 0, left, "middle");
    side.setAttribute("transform", `translate(17 ${BOX.y + BOX.h / 2}) rotate(-90)`);
    this.ink = node("g", {}, this.svg);
    return this;
  }

  text(parent, x, y, text, anchor = "start", kind = "") {
    const e = node("text", {x: x.toFixed(1), y: y.toFixed(1), "text-anchor": anchor, class: kind}, parent);
    e.textContent = text;
    return e;
  }

  x(v) {
    const part = this.log ? Math.log(v / this.x0) / Math.log(this.x1 / this.x0) : (v - this.x0) / (this.x1 - this.x0);
    return BOX.x + BOX.w * part;
  }

  y(v) { return BOX.y + BOX.h * (1 - (v - this.y0) / (this.y1 - this.y0)); }

  // curve draws a line through points, kept within the frame.
  curve(kind, xs, ys) {
    let d = "";
    for (let i = 0; i < xs.length; i++) {
      if (xs[i] < this.x0 || xs[i] > this.x1) continue;
      const y = Math.min(Math.max(this.y(ys[i]), BOX.y), BOX.y + BOX.h);
      d += (d ? "L" : "M") + this.x(xs[i]).toFixed(1) + " " + y.toFixed(1);
    }
    if (d) node("path", {class: "line " + kind, d}, this.ink);
    return this;
  }

  point(kind, x, y) {
    const inside = Math.min(Math.max(x, this.x0), this.x1);
    node("circle", {class: kind, cx: this.x(inside).toFixed(1), cy: Math.min(Math.max(this.y(y), BOX.y), BOX.y + BOX.h).toFixed(1), r: 5}, this.ink);
    return this;
  }

  // band shades a range of the horizontal axis.
  band(from, to) {
    const a = this.x(Math.max(from, this.x0)), b = this.x(Math.min(to, this.x1));
    if (b > a) node("rect", {class: "band", x: a.toFixed(1), y: BOX.y, width: (b - a).toFixed(1), height: BOX.h}, this.ink);
    return this;
  }

  // key names the curves above the frame.
  key(entries) {
    let x = BOX.x;
    for (const [kind, text] of entries) {
      node("path", {class: "line " + kind, d: `M${x.toFixed(1)} 16h24`}, this.ink);
      const e = this.text(this.ink, x + 29, 20, text);
      x += 29 + (e.getComputedTextLength() || 9 * text.length) + 22;
    }
    return this;
  }
}

// inWords says in how many trials something is predicted to be heard.
function inWords(share) {
  const word = share > 0.9 ? "heard" : share >= 0.5 ? "often heard" : share >= 0.1 ? "seldom heard" : "not heard";
  const chance = share < 0.005 ? "under 1 %" : share > 0.995 ? "over 99 %" : Math.round(100 * share) + " %";
  return [word, chance];
}

// between reads a portrait's list at an input, V: it is sampled at reach·u³.
function between(list, reach, volts) {
  const u = Math.cbrt(Math.min(Math.max(volts / reach, -1), 1));
  const at = (u + 1) / 2 * (list.length - 1);
  const i = Math.min(Math.floor(at), list.length - 2);
  return list[i] + (list[i + 1] - list[i]) * (at - i);
}

// hold is a scale that follows a maximum: up at once, down only when it is far too large.
class Hold {
  constructor() { this.value = 0; }
  follow(maximum) {
    const wanted = round(Math.max(maximum, 1e-6));
    if (wanted > this.value || wanted < this.value / 2.1) this.value = wanted;
    return this.value;
  }
}

// standalone returns a drawing as a file of its own, its styles written in.
function standalone(svg, title) {
  const copy = svg.cloneNode(true), box = svg.viewBox.baseVal;
  copy.setAttribute("xmlns", SVG);
  copy.setAttribute("width", box.width);
  copy.setAttribute("height", box.height);
  copy.removeAttribute("style");
  const from = svg.querySelectorAll("*"), to = copy.querySelectorAll("*");
  const names = ["fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "font-family", "font-size", "font-weight", "font-style"];
  from.forEach((e, i) => {
    const style = getComputedStyle(e);
    to[i].setAttribute("style", names.map(n => n + ":" + style.getPropertyValue(n)).join(";"));
    to[i].removeAttribute("class");
  });
  const paper = node("rect", {x: box.x, y: box.y, width: box.width, height: box.height, fill: getComputedStyle(document.body).backgroundColor});
  copy.prepend(paper);
  if (!copy.querySelector("title")) {
    const name = node("title", {});
    name.textContent = title;
    copy.prepend(name);
  }
  copy.removeAttribute("class");
  return '<?xml version="1.0" encoding="UTF-8"?>\n' + new XMLSerializer().serializeToString(copy);
}

// keep saves data as a file.
function keep(name, data, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([data], {type}));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
