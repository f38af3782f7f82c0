// What all parts of the picking surface share: a front read, colours, marks, round numbers.  These files are joined
// into one before the browser gets them, the one with the export last.

const VIRIDIS = ["#440154", "#482878", "#3e4a89", "#31688e", "#26828e", "#1f9e89", "#35b779", "#6dcd59", "#b4de2c", "#fde725"];
const REACH = 18; // px, how near the hand has to be to a design
const LEAST_DRAG = 5; // px: less is a click
const EPS = 1e-6; // of a bound: figures that read alike are alike

const el = (tag, attributes = {}, ...children) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (name in made && name !== "list" && name !== "role") made[name] = value;
    else if (value !== null) made.setAttribute(name, value);
  made.append(...children);
  return made;
};
const shape = (tag, attributes = {}, text) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  if (text !== undefined) made.textContent = text;
  return made;
};
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  return Uint16Array.from({ length: bytes.length / 2 }, (_, i) => view.getUint16(2 * i, true));
}

// 1, 2 or 5 times a power of ten, no smaller than what is asked for.
function roundStep(span) {
  if (!(span > 0)) return 1;
  const power = 10 ** Math.floor(Math.log10(span));
  return [1, 2, 5, 10].find((factor) => factor * power >= span * (1 - 1e-9)) * power;
}
const tidy = (value, step) => Number((Math.round(value / step) * step).toPrecision(10));
function ticks(low, high, most) {
  const step = roundStep((high - low) / most);
  const found = [];
  for (let value = Math.ceil(low / step) * step; value <= high + 1e-9 * step; value += step) found.push(tidy(value, step));
  return found;
}
const decimals = (step) => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
const plainNumber = (value, step) => value.toFixed(decimals(step)).replace("-", "−");

function mixed(one, other, share) {
  const parts = [1, 3, 5].map((at) => {
    const [a, b] = [one, other].map((colour) => parseInt(colour.slice(at, at + 2), 16));
    return Math.round(a + (b - a) * share).toString(16).padStart(2, "0");
  });
  return `#${parts.join("")}`;
}
// The better, the further from the paper, whatever the figure and whichever way it is better.
function ramp(good, dark) {
  const place = clamp(dark ? 0.25 + 0.75 * good : 0.9 * (1 - good), 0, 1) * (VIRIDIS.length - 1);
  const below = Math.min(Math.floor(place), VIRIDIS.length - 2);
  return mixed(VIRIDIS[below], VIRIDIS[below + 1], place - below);
}

const MARKS = ["circle", "square", "triangle-up", "diamond", "triangle-down", "cross"];
const KIND_MARKS = { vented: "circle", closed: "square", radiator: "triangle-up" };
const THIRDS = [["triangle-up", "best third"], ["circle", "middle third"], ["triangle-down", "worst third"]];
function outline(mark, x, y, r) {
  const at = (...points) => `M${points.map(([dx, dy]) => `${(x + dx * r).toFixed(1)},${(y + dy * r).toFixed(1)}`).join("L")}Z`;
  switch (mark) {
    case "square": return at([-0.85, -0.85], [0.85, -0.85], [0.85, 0.85], [-0.85, 0.85]);
    case "triangle-up": return at([0, -1.15], [1.1, 0.85], [-1.1, 0.85]);
    case "triangle-down": return at([0, 1.15], [1.1, -0.85], [-1.1, -0.85]);
    case "diamond": return at([0, -1.25], [1, 0], [0, 1.25], [-1, 0]);
    case "cross": return at([-0.4, -1.1], [0.4, -1.1], [0.4, -0.4], [1.1, -0.4], [1.1, 0.4], [0.4, 0.4], [0.4, 1.1],
      [-0.4, 1.1], [-0.4, 0.4], [-1.1, 0.4], [-1.1, -0.4], [-0.4, -0.4]);
    default: return `M${x - r},${y}a${r},${r} 0 1 0 ${2 * r},0a${r},${r} 0 1 0 ${-2 * r},0`;
  }
}

// A front as it came from Python: figures by key, names by trait, each asked by the number of a design.
class Front {
  constructor(text) {
    const read = JSON.parse(text);
    this.ids = read.ids;
    this.count = read.ids.length;
    this.number = new Map(read.ids.map((id, i) => [id, i]));
    this.covered = read.covered;
    this.columns = new Map(read.columns.map((column) => [column.key, new Figure(column)]));
    this.traits = new Map(read.traits.map((trait) => [trait.key, { ...trait, codes: unpacked(trait.codes) }]));
    this.kinds = { names: read.kinds.names, codes: unpacked(read.kinds.codes) };
    this.drivers = { names: read.drivers.names, codes: unpacked(read.drivers.codes) };
  }
  what(i) {
    return `${this.kinds.names[this.kinds.codes[i]]}, ${this.drivers.names[this.drivers.codes[i]]}`;
  }
  // "D0421: vented box, 2 × compact 8; 104.0 dB at 40 Hz, weight 21.0 kg"
  inWords(i, keys) {
    const told = keys.map((key) => this.columns.get(key).inWords(i));
    return `${this.ids[i]}: ${this.what(i)}; ${told.join(", ")}`;
  }
}

class Figure {
  constructor(read) {
    Object.assign(this, read);
    this.codes = unpacked(read.codes);
    this.low = Math.min(...read.values);
    this.high = Math.max(...read.values);
    this.title = read.unit ? `${read.label} (${read.unit})` : read.label;
    this.step = roundStep((this.high - this.low) / 200);
  }
  at = (i) => this.values[this.codes[i]];
  text = (i) => this.texts[this.codes[i]];
  inWords = (i) => this.said.replace("{}", this.text(i));
  share = (value) => (this.high > this.low ? (value - this.low) / (this.high - this.low) : 0.5);
  // 1 where it is best, 0 where it is worst.
  goodness = (value) => (this.more ? this.share(value) : 1 - this.share(value));
  good = (i) => this.goodness(this.at(i));
  valueAt = (good) => tidy(this.low + (this.more ? good : 1 - good) * (this.high - this.low), this.step);
  extreme = (value) => this.texts[this.values.indexOf(value)];
  get best() { return this.more ? this.high : this.low; }
  get worst() { return this.more ? this.low : this.high; }
}
