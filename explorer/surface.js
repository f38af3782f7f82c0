// The picking surface: all its parts look at one state, so that what is done in one is seen in all.
// What somebody does shows at once; Python is told by an act with a number, and what Python says is taken up when it
// knows of the last act.

const SKELETON = `
  <div class="board">
    <div class="tools"></div>
    <div class="legends"></div>
    <div class="scatter" tabindex="0" role="application"><canvas aria-hidden="true"></canvas><svg aria-hidden="true"></svg></div>
    <div class="sieve" role="group" aria-label="Keep designs with"></div>
    <div class="sides" role="group">
      <canvas aria-hidden="true"></canvas><svg aria-hidden="true"></svg><div class="fields"></div></div>
  </div>
  <section class="pick" aria-label="The pick">
    <div class="head"><h3 class="name"></h3>
      <div class="steps"><button type="button" data-step="-1" aria-label="Previous design">‹</button>
        <span class="place"></span><button type="button" data-step="1" aria-label="Next design">›</button></div>
      <select class="quick" aria-label="Go to a design"></select></div>
    <div class="lines"></div>
    <table class="figures"></table>
    <div class="tabs" role="tablist" aria-label="Curves and drawings"></div>
    <p class="readout"></p><div class="chart" id="sheet" role="tabpanel"></div><p class="caption"></p>
  </section>
  <p class="spoken" aria-live="polite"></p>`;
const SIDES = "All figures side by side, better at the top; a range on any of them narrows all";
const PLACES = { x: "Across", y: "Up", colour: "Colour", shape: "Shape" };
const SETTLED = 160; // ms after the last step before Python is told

class Surface {
  queue = [];
  turn = null;
  chosen = -1;
  pickId = "";
  pointed = -1;
  tab = "";
  fault = null;
  stamp = null;
  timer = 0;

  constructor(stage) {
    stage.innerHTML = SKELETON;
    this.stage = stage;
    const part = (name) => stage.querySelector(`.${name}`);
    [this.tools, this.legends, this.sieve, this.quick, this.spoken] = ["tools", "legends", "sieve", "quick", "spoken"].map(part);
    this.scatter = new Scatter(this, part("scatter"));
    this.sides = new Axes(this, part("sides"));
    this.curves = new Curves(this, part("pick"));
    this.tools.addEventListener("change", ({ target }) => this.setAxis(target.dataset.place, target.value));
    this.quick.addEventListener("change", () => this.goTo(this.quick.value));
    this.sieve.addEventListener("change", ({ target }) => this.sift(target));
    this.sieve.addEventListener("click", ({ target }) => target.dataset.act && this.send({ does: target.dataset.act }));
    this.watch = new ResizeObserver(() => this.front && stage.clientWidth !== this.width && this.draw());
    this.watch.observe(stage);
  }

  // What Python says.
  receive(data, setStateValue) {
    this.set = setStateValue;
    if (this.turn === null) this.turn = data.turn;
    this.queue = this.queue.filter((act) => act.turn > data.turn);
    this.data = data;
    this.ink = data.ink;
    const isNew = data.stamp !== this.stamp;
    if (isNew) {
      this.front = new Front(data.front);
      this.stamp = data.stamp;
      this.pointed = -1;
    }
    if (isNew || (!this.queue.length && !this.timer && !this.sides.held)) {
      Object.assign(this, { axes: data.axes, beside: data.beside, ranges: data.ranges, names: data.names, covered: data.covered, fault: data.fault, few: data.few });
      this.pickId = data.pick?.id ?? "";
      this.tab = data.tab || this.tab;
    }
    // A pick may be of an earlier front: then another design has its name on this one.
    const isElsewhere = data.pick?.id === this.pickId && !data.pick.there;
    this.chosen = isElsewhere ? -1 : (this.front.number.get(this.pickId) ?? -1);
    this.curves.take(data.pick);
    this.sifted();
    this.draw();
  }

  send(act) {
    this.turn += 1;
    this.queue.push({ ...act, turn: this.turn });
    this.set("acts", { list: this.queue });
  }

  sifted() {
    const { front } = this;
    this.passes = new Uint8Array(front.count).fill(1);
    for (const [key, [low, high]] of Object.entries(this.ranges)) {
      const figure = front.columns.get(key);
      if (!figure) continue;
      const from = low ? low.value - EPS * Math.abs(low.value) : -Infinity, to = high ? high.value + EPS * Math.abs(high.value) : Infinity;
      for (let i = 0; i < front.count; i++) if (!(figure.at(i) >= from && figure.at(i) <= to)) this.passes[i] = 0;
    }
    for (const [key, names] of Object.entries(this.names)) {
      const trait = front.traits.get(key);
      if (!trait) continue;
      const kept = trait.options.map((option) => names.includes(option));
      for (let i = 0; i < front.count; i++) if (!kept[trait.codes[i]]) this.passes[i] = 0;
    }
    if (this.covered) for (let i = 0; i < front.count; i++) if (!front.covered[i]) this.passes[i] = 0;
    this.kept = this.passes.reduce((sum, pass) => sum + pass, 0);
  }

  // Colour and shape, by a figure or by a name.
  colour(i) {
    const figure = this.front.columns.get(this.axes.colour);
    if (figure) return ramp(figure.good(i), this.ink.dark);
    const trait = this.front.traits.get(this.axes.colour);
    return trait ? this.ink.series[trait.codes[i]] ?? this.ink.guide : this.ink.series[0];
  }
  mark(i) {
    const figure = this.front.columns.get(this.axes.shape);
    if (figure) return THIRDS[clamp(Math.floor(3 * (1 - figure.good(i))), 0, 2)][0];
    const trait = this.front.traits.get(this.axes.shape);
    return trait ? this.named(trait, trait.codes[i]) : "circle";
  }
  named = (trait, code) => (trait.key === "box_kind" ? KIND_MARKS[trait.options[code]] : null) ?? MARKS[Math.min(code, MARKS.length - 1)];

  marked() {
    const all = Object.entries(this.data.marks).filter(([, words]) => words !== "pick").map(([id, words]) => [this.front.number.get(id), words.replace(" (pick)", "")]);
    const there = new Map(all.filter(([i]) => i !== undefined));
    const name = this.data.growing || this.pickId;
    if (this.chosen >= 0) there.set(this.chosen, there.has(this.chosen) ? `${there.get(this.chosen)} – ${name}` : name);
    return [...there];
  }

  draw() {
    this.width = this.stage.clientWidth;
    this.stage.classList.toggle("wide", this.width >= 860);
    this.stage.classList.toggle("narrow", this.width < 560);
    this.stage.classList.toggle("growing", Boolean(this.data.growing));
    this.drawTools();
    this.drawLegends();
    this.drawSieve();
    this.scatter.draw();
    this.sides.draw();
    this.curves.draw();
    this.tell();
  }

  // What the two pictures of the front tell whoever does not see them.
  tell() {
    const { front } = this;
    const [x, y] = this.scatter.figures;
    const reach = (figure) => `${figure.label} from ${figure.extreme(figure.low)} to ${figure.extreme(figure.high)}`;
    const steps = this.data.growing ? "" : ` Arrow keys step through ${this.stepping().of} of them that stand for the rest; a drag of the pointer, or the fields below, narrow them down.`;
    this.scatter.stage.setAttribute("aria-label", `Front: ${front.count} designs, ${this.kept} kept: ${reach(x)} across, ${reach(y)} up.${this.chosenInWords([this.axes.x, this.axes.y])}${steps}`);
    this.sides.stage.setAttribute("aria-label", `${SIDES}.${this.chosenInWords(this.beside)}`);
  }

  chosenInWords(keys) {
    if (this.chosen < 0) return "";
    return ` ${this.data.growing || "Pick"} ${this.front.inWords(this.chosen, keys)}.`;
  }

  drawTools() {
    const { front } = this;
    const figures = [...front.columns.values()].map(({ key, label }) => [key, label]);
    const traits = [...front.traits.values()].filter(({ key }) => key !== "drivers").map(({ key, label }) => [key, label]);
    const more = figures.filter(([key]) => !this.beside.includes(key));
    const extra = this.beside.filter((key) => !front.columns.get(key)?.objective);
    const asked = JSON.stringify([this.stamp, this.axes, this.beside]);
    if (asked === this.toolsMade) return;
    this.toolsMade = asked;
    const select = (place, label, options, value) => {
      const made = el("select", {}, ...options.map(([key, text]) => el("option", { value: key }, text)));
      made.dataset.place = place;
      made.value = value;
      return el("label", {}, el("span", {}, label), made);
    };
    const shown = Object.entries(PLACES).map(([place, label]) => select(place, label, place === "x" || place === "y" ? figures : [...traits, ...figures], this.axes[place]));
    if (more.length || extra.length) {
      const options = [["", "Axes below…"], ...more.map(([key, text]) => [`+${key}`, `add ${text}`]), ...extra.map((key) => [`-${key}`, `take away ${front.columns.get(key).label}`])];
      shown.push(select("beside", "More", options, ""));
    }
    const focused = this.stage.getRootNode().activeElement?.dataset?.place;
    this.tools.replaceChildren(...shown);
    if (focused) this.tools.querySelector(`[data-place="${focused}"]`)?.focus();
  }

  drawLegends() {
    const { front, axes, ink } = this;
    const parts = [];
    const figure = front.columns.get(axes.colour), trait = front.traits.get(axes.colour);
    const swatch = (mark, colour) => {
      const svg = shape("svg", { width: 14, height: 14, "aria-hidden": "true" });
      svg.append(shape("path", { d: outline(mark, 7, 7, 5), fill: colour, stroke: ink.text }));
      return svg;
    };
    if (figure) {
      const stops = [0, 0.25, 0.5, 0.75, 1].map((good) => ramp(good, ink.dark));
      const bar = el("span", { className: "ramp", style: `background: linear-gradient(to right, ${stops.join(", ")})` });
      parts.push(el("span", {}, `${figure.label}: worse ${figure.extreme(figure.worst)} `, bar, ` ${figure.extreme(figure.best)} better`));
    } else if (trait) trait.names.forEach((name, code) => parts.push(el("span", {}, swatch(axes.shape === trait.key ? this.named(trait, code) : "circle", ink.series[code] ?? ink.guide), ` ${name}`)));
    if (axes.shape !== axes.colour) {
      const shaped = front.traits.get(axes.shape);
      const options = shaped ? shaped.names.map((name, code) => [this.named(shaped, code), name]) : front.columns.has(axes.shape) ? THIRDS : [];
      options.forEach(([mark, name]) => parts.push(el("span", {}, swatch(mark, "transparent"), ` ${name}`)));
    }
    const few = this.few.filter((i) => this.passes[i]).length;
    const told = few < this.kept ? `; ${few} that stand for them stand out` : "";
    const count = (number) => number.toLocaleString("en").replaceAll(",", "\u2009");
    parts.push(el("span", { className: "count" }, el("strong", {}, `${count(this.kept)} of ${count(front.count)} designs kept`), this.kept ? told : ": loosen a range, or clear them all"));
    this.legends.replaceChildren(...parts);
  }

  drawSieve() {
    const { front, data } = this;
    const asked = JSON.stringify([this.stamp, this.names, this.covered, this.ranges, this.kept, data.limits]);
    if (asked === this.sieveMade) return;
    this.sieveMade = asked;
    const parts = [];
    for (const trait of front.traits.values()) {
      if (!trait.filter) continue;
      const kept = this.names[trait.key] ?? trait.options;
      const boxes = trait.options.map((option, k) => this.tick(`${trait.key}:${option}`, trait.names[k], kept.includes(option)));
      parts.push(el("fieldset", {}, el("legend", {}, trait.filter), ...boxes));
    }
    const covered = front.covered.reduce((sum, each) => sum + each, 0);
    if (covered < front.count) parts.push(el("fieldset", {}, this.tick("covered", "Fully covered by the model", this.covered)));
    const button = (act, words, title, disabled = false) => {
      const made = el("button", { type: "button", title, disabled }, words);
      made.dataset.act = act;
      return made;
    };
    if (data.limits) parts.push(button("limits", "Within limits", "Only designs that stay within every Xmax and the vent air speed limit"));
    const narrowed = Object.keys(this.ranges).length || Object.keys(this.names).length || this.covered;
    parts.push(button("clear", "Clear", "Keep all designs again", !narrowed));
    const focused = this.stage.getRootNode().activeElement?.dataset?.name;
    this.sieve.replaceChildren(...parts);
    if (focused) this.sieve.querySelector(`[data-name="${CSS.escape(focused)}"]`)?.focus();

    const ways = [["", "Go to…"], ...data.quick.map(([id, label]) => [id, label])];
    if (!same(ways, this.ways)) this.quick.replaceChildren(...ways.map(([id, label]) => el("option", { value: id, title: data.quick.find((way) => way[0] === id)?.[2] ?? "" }, label)));
    this.ways = ways;
    this.quick.hidden = ways.length < 2;
  }

  tick(name, label, checked) {
    const input = el("input", { type: "checkbox", checked });
    input.dataset.name = name;
    return el("label", {}, input, el("span", {}, label));
  }

  sift({ dataset: { name }, checked }) {
    if (!name) return;
    if (name === "covered") {
      this.covered = checked;
      this.send({ does: "covered", only: checked });
    } else {
      const at = name.indexOf(":");
      const [key, option] = [name.slice(0, at), name.slice(at + 1)];
      const { options } = this.front.traits.get(key);
      const kept = new Set(this.names[key] ?? options);
      kept[checked ? "add" : "delete"](option);
      const names = { ...this.names };
      if (kept.size === options.length) delete names[key];
      else names[key] = options.filter((each) => kept.has(each));
      this.names = names;
      this.send({ does: "names", key, options: [...kept] });
    }
    this.sifted();
    this.draw();
  }

  narrow(figure, low, high, told = true) {
    const bound = (value) => (value === null ? null : { value, text: String(value) });
    const ranges = { ...this.ranges, [figure.key]: [bound(low), bound(high)] };
    if (low === null && high === null) delete ranges[figure.key];
    this.ranges = ranges;
    this.fault = null;
    if (!this.beside.includes(figure.key)) this.beside = [...this.beside, figure.key];
    this.sifted();
    this.draw();
    if (told) this.send({ does: "range", key: figure.key, low, high });
  }

  typed(figure, end, text) {
    this.fault = null;
    this.send({ does: "typed", key: figure.key, end, text });
  }

  setAxis(place, key) {
    if (!key) return;
    if (place === "beside") {
      const extra = this.beside.filter((each) => !this.front.columns.get(each)?.objective);
      const name = key.slice(1);
      const keys = key[0] === "+" ? [...extra, name] : extra.filter((each) => each !== name);
      if (key[0] === "-" && this.ranges[name]) this.narrow(this.front.columns.get(name), null, null);
      this.beside = [...this.beside.filter((each) => !extra.includes(each)), ...keys];
      this.send({ does: "beside", keys });
    } else {
      this.axes = { ...this.axes, [place]: key };
      this.send({ does: "axis", place, key });
    }
    this.draw();
  }

  point(i) {
    if (i === this.pointed || (this.sides.held && i >= 0)) return;
    this.pointed = i;
    this.scatter.over();
    this.sides.over();
    this.curves.figures();
  }

  choose(i, soon = false) {
    if (this.data.growing || i === this.chosen) return;
    this.chosen = i;
    this.pickId = this.front.ids[i];
    this.pointed = -1;
    this.scatter.over();
    this.sides.over();
    this.curves.draw();
    this.tell();
    const { at, of } = this.stepping();
    this.spoken.textContent = `${at ? `${at} of ${of}. ` : ""}${this.front.inWords(i, this.beside)}`;
    clearTimeout(this.timer);
    const tell = () => ((this.timer = 0), this.send({ does: "pick", id: this.pickId }));
    if (soon) this.timer = setTimeout(tell, SETTLED);
    else tell();
  }

  goTo(id) {
    const i = this.front.number.get(id);
    this.quick.value = "";
    if (i !== undefined) this.choose(i);
  }

  // The designs to step through, in order along an axis.
  order(key = this.axes.x) {
    const figure = this.front.columns.get(key);
    return this.few.filter((i) => this.passes[i]).sort((a, b) => figure.at(a) - figure.at(b) || a - b);
  }
  stepping() {
    const order = this.data.growing ? [] : this.order();
    return { at: order.indexOf(this.chosen) + 1, of: order.length };
  }
  step(by, key = this.axes.x) {
    const order = this.order(key);
    if (!order.length) return;
    const figure = this.front.columns.get(key);
    const at = order.indexOf(this.chosen);
    let next = at + by;
    if (Math.abs(by) > order.length) next = by; // to either end
    else if (at < 0 && this.chosen >= 0) {
      const after = order.findIndex((i) => figure.at(i) > figure.at(this.chosen));
      next = by > 0 ? (after < 0 ? order.length - 1 : after) : (after < 0 ? order.length : after) - 1;
    } else if (at < 0) next = by > 0 ? 0 : order.length - 1;
    this.choose(order[clamp(next, 0, order.length - 1)], true);
  }
  key(event) {
    const moves = { ArrowRight: [1, "x"], ArrowLeft: [-1, "x"], ArrowUp: [1, "y"], ArrowDown: [-1, "y"], Home: [-1e6, "x"], End: [1e6, "x"] };
    const move = moves[event.key];
    if (!move || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    this.step(move[0], this.axes[move[1]]);
  }
}

const surfaces = new WeakMap();

// Streamlit calls this each time it has news for the component; the surface itself stays.
export default function ({ data, parentElement, setStateValue }) {
  const stage = parentElement.querySelector(".surface");
  const surface = surfaces.get(stage) ?? new Surface(stage);
  surfaces.set(stage, surface);
  surface.receive(data, setStateValue);
  return () => {
    clearTimeout(surface.timer);
    surface.watch.disconnect();
    surfaces.delete(stage);
  };
}
