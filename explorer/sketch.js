// The cross-section of the space, drawn by hand: y is forward (to the right), z is up, both in metres.
// Python is told at the end of each change, never during one, and never because Python spoke.

const HEIGHT = 340;
const EDGE = { left: 44, right: 14, top: 14, bottom: 34 }; // px around the drawing, for the grid's figures
const INCH = 0.0254;
const GRIDS = {
  metric: [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5],
  us: [0.5, 1, 2, 6, 12, 24, 60, 120].map((inches) => inches * INCH),
};
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowDown: [0, -1], ArrowUp: [0, 1] };
const SKELETON = `
  <div class="tools">
    <button type="button" data-do="add"></button> <button type="button" data-do="remove">Delete corner</button>
    <button type="button" data-do="undo">Undo</button> <button type="button" data-do="afresh">Draw afresh</button>
  </div>
  <svg role="application" aria-label="Cross-section of the space, seen from the side">
    <defs><pattern id="hatch" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
      <line class="hatching" y2="8" /></pattern></defs>
    <g class="picture" aria-hidden="true"></g><path class="grip" aria-hidden="true" />
    <g class="handles"></g><text class="readout" aria-hidden="true"></text>
  </svg>
  <p class="status" role="status"></p><p class="spoken" aria-live="polite"></p>`;
// What the hand or the focus may be on stays in place: a rebuilt handle would lose the focus, a rebuilt side the
// finger.  The picture is drawn anew each time.
const HANDLE = `<g tabindex="0" role="button" aria-roledescription="corner">
  <circle class="hit" /><circle class="dot" /><text text-anchor="middle"></text></g>`;

const tidy = (metres) => Math.round(metres * 1e9) / 1e9 || 0; // no 0.30000000000000004, no minus nought
const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
const same = (one, other) => one.length === other.length && one.every((corner, i) => apart(corner, other[i]) < 1e-6);
const unit = (units) => (units === "metric" ? "mm" : "in");

function figure(metres, units) {
  if (units === "metric") return String(Math.round(metres * 1e4) / 10 || 0).replace("-", "−");
  const inches = Math.abs(metres / INCH);
  const sign = metres < 0 && inches >= 0.005 ? "−" : "";
  const quarters = Math.round(inches * 4);
  if (Math.abs(inches - quarters / 4) >= 0.005) return sign + inches.toFixed(2);
  const parts = [Math.floor(quarters / 4), ["", "1/4", "1/2", "3/4"][quarters % 4]];
  return sign + (parts.filter(Boolean).join(" ") || "0");
}

// How far c lies to the left of a–b (0 on the line), and how far b and c lie the same way from a.
function beside(a, b, c) {
  const twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
  return Math.abs(twice) < 1e-10 ? 0 : twice;
}
const along = (a, b, c) => (b[0] - a[0]) * (c[0] - a[0]) + (b[1] - a[1]) * (c[1] - a[1]);

// All pairs of sides that meet where the sides of an outline must not.
function meetings(points, closed) {
  const count = points.length - (closed ? 0 : 1);
  const isOn = (a, b, p) => beside(a, b, p) === 0 && along(p, a, b) <= 1e-12;
  const found = [];
  for (let i = 0; i < count; i++)
    for (let j = i + 1; j < count; j++) {
      const [a, b, c, d] = [i, i + 1, j, j + 1].map((k) => points[k % points.length]);
      const wraps = closed && i === 0 && j === count - 1;
      if (j === i + 1 || wraps) {
        // Neighbours share a corner; all they may not do is fold back onto each other.
        const [shared, one, other] = wraps ? [a, b, c] : [b, a, d];
        if (beside(shared, one, other) === 0 && along(shared, one, other) > 0) found.push({ i, j, at: shared });
      } else if (beside(a, b, c) * beside(a, b, d) < 0 && beside(c, d, a) * beside(c, d, b) < 0) {
        const share = beside(a, b, c) / (beside(a, b, c) - beside(a, b, d));
        found.push({ i, j, at: [0, 1].map((axis) => c[axis] + share * (d[axis] - c[axis])), cross: true });
      } else {
        const at = [c, d].find((point) => isOn(a, b, point)) ?? [a, b].find((point) => isOn(c, d, point));
        if (at) found.push({ i, j, at });
      }
    }
  return found;
}

class Sketch {
  points = [];
  closed = false; // while it is not, the outline is being begun, corner by corner
  selected = null;
  history = [];
  told = null; // the outline that Python has, and the turn it got it in
  turn = 0;
  before = null; // the outline before the change that is going on
  held = null; // what Python said meanwhile
  drag = null;
  pointer = null;
  timer = 0;

  constructor(stage) {
    stage.innerHTML = SKELETON;
    this.stage = stage;
    this.svg = stage.querySelector("svg");
    this.handles = this.svg.querySelector(".handles");
    const on = (name, act) => this.svg.addEventListener(name, act.bind(this));
    on("pointerdown", this.press);
    on("pointermove", this.move);
    on("pointerup", this.release);
    on("pointercancel", this.giveUp);
    on("pointerleave", () => ((this.pointer = null), this.draw()));
    // A finger on a corner or a side drags it; anywhere else it scrolls the page.
    this.svg.addEventListener("touchstart", (event) => this.drag?.start && event.preventDefault(), { passive: false });
    on("keydown", this.key);
    on("focusin", ({ target }) => ((this.selected = [...this.handles.children].indexOf(target)), this.draw()));
    on("focusout", () => this.timer && this.commit());
    stage.querySelector(".tools").addEventListener("click", ({ target }) => this[target.dataset.do]?.());
    this.watch = new ResizeObserver(() => this.draw());
    this.watch.observe(stage);
  }

  // What Python says.  During a change it waits: nothing may move under the user's hand.
  receive(data, setStateValue) {
    this.setStateValue = setStateValue;
    if (this.before || this.drag) return void (this.held = data);
    this.data = data;
    const corners = data.corners.map((corner) => corner.map(tidy));
    const isFirst = this.told === null;
    if (isFirst) this.turn = data.turn;
    // An answer to an earlier drawing is stale.  The answer to the last one says nothing new, unless the
    // outline was changed elsewhere on the page.
    if (data.turn === this.turn && (isFirst || !same(corners, this.told))) {
      if (!isFirst) this.remember(this);
      Object.assign(this, { points: corners, closed: corners.length > 2, told: corners, selected: null });
      this.fit();
    }
    this.draw();
  }

  // A step of a change; the first one keeps what was there before.
  change(points, closed = this.closed) {
    this.before ??= { points: this.points, closed: this.closed };
    Object.assign(this, { points, closed });
    this.draw();
  }

  // The end of a change: from now on it can be undone, and Python hears of it if it is a whole outline.
  commit() {
    clearTimeout(this.timer);
    const { before, held } = this;
    Object.assign(this, { before: null, held: null, timer: 0 });
    if (before && !(before.closed === this.closed && same(before.points, this.points))) {
      this.remember(before);
      this.settle();
    }
    if (held) this.receive(held, this.setStateValue);
    this.draw();
  }

  settle() {
    if (this.points.length === 0 || this.isCramped()) this.fit();
    if (!this.closed || same(this.points, this.told)) return;
    this.told = this.points;
    this.setStateValue("drawn", { turn: ++this.turn, corners: this.points });
  }

  remember({ points, closed }) {
    this.history = [...this.history.slice(-99), { points, closed }];
  }

  // The tools.  "Add" is also how an outline is begun and closed without a mouse.
  add() {
    const { points, selected } = this;
    const [deep, tall] = [tidy(120 * this.data.step), tidy(80 * this.data.step)];
    if (!points.length) this.change([[0, 0], [deep, 0], [deep, tall], [0, tall]], true);
    else if (!this.closed) this.change(points, true);
    else {
      const next = (i) => points[(i + 1) % points.length];
      const lengths = points.map((corner, i) => apart(corner, next(i)));
      const at = selected ?? lengths.indexOf(Math.max(...lengths));
      this.insert(at + 1, [0, 1].map((axis) => (points[at][axis] + next(at)[axis]) / 2));
    }
    this.commit();
    this.focus(this.selected ?? 0);
  }

  remove() {
    this.commit();
    const at = this.selected;
    if (at === null || (this.closed && this.points.length <= 3)) return;
    this.selected = null;
    this.change(this.points.filter((_, i) => i !== at));
    this.commit();
    this.focus(Math.min(at, this.points.length - 1));
  }

  undo() {
    this.commit();
    Object.assign(this, this.history.pop(), { selected: null });
    this.settle();
    this.draw();
  }

  afresh() {
    this.selected = null;
    this.change([], false);
    this.commit();
  }

  // The hand.
  press(event) {
    if (!event.isPrimary || event.button !== 0) return;
    this.commit();
    const pixel = this.pixel(event);
    const reach = event.pointerType === "touch" ? 22 : 12;
    const nearest = (gaps) => gaps.reduce((best, gap, i) => (gap <= reach && !(gap >= gaps[best]) ? i : best), -1);
    let at = nearest(this.points.map((corner) => apart(this.onScreen(corner), pixel)));
    if (at < 0 && this.closed && this.points.length < this.data.most) {
      const feet = this.points.map((corner, i) => this.foot(pixel, corner, this.points[(i + 1) % this.points.length]));
      const side = nearest(feet.map((foot) => apart(foot, pixel)));
      if (side >= 0) this.insert((at = side + 1), this.place(feet[side]));
    }
    if (at >= 0) this.drag = { at, start: this.points[at], from: this.place(pixel) };
    else if (!this.closed) this.drag = { tap: pixel };
    this.selected = at < 0 ? null : at;
    this.draw();
    if (!this.drag) return;
    event.preventDefault();
    this.svg.setPointerCapture(event.pointerId);
    this.focus(at);
  }

  move(event) {
    const place = this.place(this.pixel(event));
    this.pointer = event.pointerType === "touch" ? null : place;
    if (this.drag?.start) {
      const { at, start, from } = this.drag;
      // A coordinate that was typed finer than the step stays so until the hand goes along its axis.
      const isStill = (axis) => Math.abs(place[axis] - from[axis]) < this.data.step / 2;
      const next = start.map((metres, axis) =>
        isStill(axis) ? metres : this.snap(this.within(metres + place[axis] - from[axis], axis)),
      );
      if (!same([next], [this.points[at]])) this.change(this.points.with(at, next));
    } else if (!this.closed) this.draw();
  }

  release(event) {
    const { drag, points } = this;
    this.drag = null;
    const pixel = this.pixel(event);
    if (drag?.tap && apart(drag.tap, pixel) < 8 && points.length < this.data.most)
      this.insert(points.length, this.place(pixel).map((metres, axis) => this.within(metres, axis)));
    else if (drag?.at === 0 && !this.closed && !this.before && points.length > 2) this.change(points, true);
    this.commit();
  }

  giveUp() {
    Object.assign(this, this.before, { drag: null, selected: null });
    this.commit();
  }

  key(event) {
    const at = [...this.handles.children].indexOf(event.target);
    if (event.key === "Escape" && this.drag) this.giveUp();
    else if (at < 0 || this.drag) return;
    else if (event.key in ARROWS) this.nudge(at, ARROWS[event.key], event.shiftKey ? 10 : 1);
    else if (event.key === "Delete" || event.key === "Backspace") this.remove();
    else if (event.key === "Enter" && !this.closed && this.points.length > 2) this.add();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  // Presses in a row are one change: Python hears of it, and undo takes it back, as one.
  nudge(at, way, steps) {
    const { step, reach } = this.data;
    const moved = (metres, axis) => (way[axis] ? this.snap(metres + way[axis] * steps * step) : metres);
    const next = this.points[at].map(moved);
    if (next.some((metres) => Math.abs(metres) > reach)) return;
    this.change(this.points.with(at, next));
    this.stage.querySelector(".spoken").textContent = this.words(next);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.commit(), 500);
  }

  insert(at, place) {
    this.selected = at;
    this.change(this.points.toSpliced(at, 0, place.map((metres) => this.snap(metres))));
  }

  focus(at) {
    this.handles.children[at]?.focus({ preventScroll: true });
  }

  snap(metres) {
    return tidy(Math.round(metres / this.data.step) * this.data.step);
  }

  // The view: metres to pixels and back, one scale for both ways so that the drawing is true to shape.
  fit() {
    // An outline still to be drawn gets the room of a usual space.
    const all = [...this.points, ...this.data.keepouts.flat(), ...(this.closed ? [] : [[0, 0], [0.8, 0.8]])];
    const ends = [0, 1].map((axis) => [Math.min, Math.max].map((end) => end(...all.map((corner) => corner[axis]))));
    const spans = ends.map(([low, high]) => high - low);
    const room = 0.24 * Math.max(...spans, 0.2);
    this.view = { spans: spans.map((span) => span + room), middle: ends.map(([low, high]) => (low + high) / 2) };
  }

  get frame() {
    const width = this.stage.clientWidth || 600;
    const [wide, high] = [width - EDGE.left - EDGE.right, HEIGHT - EDGE.top - EDGE.bottom];
    const scale = Math.min(wide / this.view.spans[0], high / this.view.spans[1]);
    return { width, scale, middle: [EDGE.left + wide / 2, EDGE.top + high / 2] };
  }

  onScreen(corner) {
    const { scale, middle } = this.frame;
    return [0, 1].map((axis) => middle[axis] + (axis ? -scale : scale) * (corner[axis] - this.view.middle[axis]));
  }

  place(pixel) {
    const { scale, middle } = this.frame;
    return [0, 1].map((axis) => this.view.middle[axis] + (pixel[axis] - middle[axis]) / (axis ? -scale : scale));
  }

  rim() {
    const low = this.place([EDGE.left, HEIGHT - EDGE.bottom]);
    const high = this.place([this.frame.width - EDGE.right, EDGE.top]);
    return [0, 1].map((axis) => [low[axis], high[axis]]);
  }

  isCramped() {
    const room = 12 / this.frame.scale;
    const isNear = (metres, [low, high]) => metres < low + room || metres > high - room;
    const rim = this.rim();
    return this.points.some((corner) => corner.some((metres, axis) => isNear(metres, rim[axis])));
  }

  // A hand that leaves the drawing leaves the corner at its rim.
  within(metres, axis) {
    const [low, high] = this.rim()[axis];
    return Math.min(Math.max(metres, low, -this.data.reach), high, this.data.reach);
  }

  pixel({ clientX, clientY }) {
    const box = this.svg.getBoundingClientRect();
    return [((clientX - box.left) * this.frame.width) / box.width, ((clientY - box.top) * HEIGHT) / box.height];
  }

  // The point of a side that is nearest to a pixel.
  foot(pixel, ...side) {
    const [a, b] = side.map((corner) => this.onScreen(corner));
    const share = Math.min(Math.max(along(a, b, pixel) / along(a, b, b) || 0, 0), 1);
    return [0, 1].map((axis) => a[axis] + share * (b[axis] - a[axis]));
  }

  // The picture.  All that is put into it as markup is numbers and words from here.
  draw() {
    if (!this.data) return;
    const { points, closed, data } = this;
    const found = meetings(points, closed);
    const wrong = new Set(found.flatMap(({ i, j }) => [i, j]));
    const path = (corners) => (corners.length ? `M${corners.map((corner) => this.onScreen(corner)).join("L")}` : "");
    const sides = points.map((corner, i) => path([corner, points[(i + 1) % points.length]]));
    if (!closed) sides.pop();
    const marks = found.map(({ at }) => this.onScreen(at)).map(([x, y]) => `M${x - 7} ${y - 7}l14 14m0-14l-14 14`);
    const isFree = !closed && this.pointer && !this.drag?.start;
    const next = isFree ? this.pointer.map((metres, axis) => this.snap(this.within(metres, axis))) : null;
    const each = (paths, kind) => paths.map((d, i) => `<path class="${kind(i)}" d="${d}" />`).join("");

    this.svg.setAttribute("viewBox", `0 0 ${this.frame.width} ${HEIGHT}`);
    this.svg.classList.toggle("open", !closed);
    this.svg.querySelector(".picture").innerHTML =
      this.grid() +
      each(data.keepouts.map((outline) => `${path(outline)}Z`), () => "keepout") +
      each(closed ? [`${path(points)}Z`] : [], () => "inside") +
      each(sides, (i) => (wrong.has(i) ? "side wrong" : "side")) +
      each(marks, () => "mark") +
      each(next && points.length ? [path([points.at(-1), next])] : [], () => "rubber");
    this.svg.querySelector(".grip").setAttribute("d", closed ? sides.join("") : "");
    this.drawHandles();
    this.drawReadout(next ?? points[this.selected]);
    this.tell(found);
  }

  grid() {
    const { units } = this.data;
    const { width, scale } = this.frame;
    const [bottom, right] = [HEIGHT - EDGE.bottom, width - EDGE.right];
    const spacing = GRIDS[units].find((metres) => metres * scale >= 44) ?? GRIDS[units].at(-1);
    const lines = this.rim().map(([low, high], axis) => {
      const first = Math.ceil(low / spacing);
      return Array.from({ length: Math.floor(high / spacing) - first + 1 }, (_, i) => {
        const at = (first + i) * spacing;
        const spot = this.onScreen([at, at])[axis];
        const line = axis ? `M${EDGE.left} ${spot}H${right}` : `M${spot} ${EDGE.top}V${bottom}`;
        const [x, y, anchor] = axis ? [EDGE.left - 6, spot + 4, "end"] : [spot, bottom + 14, "middle"];
        return `<path class="grid${first + i ? "" : " nought"}" d="${line}" />
          <text class="figure" x="${x}" y="${y}" text-anchor="${anchor}">${figure(at, units)}</text>`;
      }).join("");
    });
    return `${lines.join("")}
      <text class="figure" x="${right}" y="${HEIGHT - 4}" text-anchor="end">forward, ${unit(units)} →</text>
      <text class="figure" x="${-EDGE.top}" y="11" text-anchor="end" transform="rotate(-90)">up, ${unit(units)} →
      </text>`;
  }

  drawHandles() {
    const { points, handles } = this;
    while (handles.children.length > points.length) handles.lastElementChild.remove();
    while (handles.children.length < points.length) handles.insertAdjacentHTML("beforeend", HANDLE);
    const spots = points.map((corner) => this.onScreen(corner));
    const middle = [0, 1].map((axis) => spots.reduce((sum, spot) => sum + spot[axis], 0) / spots.length);
    [...handles.children].forEach((handle, i) => {
      const closes = i === 0 && !this.closed && points.length > 2;
      handle.setAttribute("class", `handle${i === this.selected ? " chosen" : ""}${closes ? " closes" : ""}`);
      handle.setAttribute("transform", `translate(${spots[i]})`);
      const hint = closes ? "; Enter closes the outline" : "";
      handle.setAttribute("aria-label", `Corner ${i + 1}, ${this.words(points[i])}${hint}`);
      // The number stands on the outer side of its corner.
      const out = [0, 1].map((axis) => (17 * (spots[i][axis] - middle[axis])) / (apart(spots[i], middle) || 1));
      handle.lastElementChild.setAttribute("x", out[0]);
      handle.lastElementChild.setAttribute("y", out[1] + 4);
      handle.lastElementChild.textContent = i + 1;
    });
  }

  // The coordinates beside the chosen corner, or beside the hand while an outline is being begun.
  drawReadout(corner) {
    const readout = this.svg.querySelector(".readout");
    readout.textContent = corner ? this.words(corner) : "";
    if (!corner) return;
    const [x, y] = this.onScreen(corner);
    const isLeft = x < this.frame.width / 2;
    readout.setAttribute("x", x + (isLeft ? 14 : -14));
    readout.setAttribute("y", y < 60 ? y + 28 : y - 18);
    readout.setAttribute("text-anchor", isLeft ? "start" : "end");
  }

  words([y, z]) {
    const [forward, up] = [y, z].map((metres) => `${figure(metres, this.data.units)} ${unit(this.data.units)}`);
    return `${forward} forward, ${up} up`;
  }

  tell(found) {
    const { closed, data, selected, points } = this;
    const count = points.length;
    let words = "Click the corners one after another, going round; a click on the first one closes the outline.";
    if (found.length) {
      const name = (i) => `${i + 1}–${((i + 1) % count) + 1}`;
      const pairs = found.slice(0, 3).map(({ i, j }) => `${name(i)} and ${name(j)}`);
      const verb = found.some(({ cross }) => cross) ? "cross" : "touch";
      words = `${pairs.length > 1 ? "These" : "These two"} sides ${verb}: ${pairs.join("; ")}.`;
    } else if (closed) {
      const step = `${figure(data.step, data.units)} ${unit(data.units)}`;
      words = `Drag a corner; click a side to add one. Arrow keys move the chosen corner by ${step}, with Shift by ten
        times that; Delete removes it.`.replace(/\s+/g, " ");
    } else if (this.told.length > 2) words += " Until then the page goes on with the outline before.";
    const status = this.stage.querySelector(".status");
    status.classList.toggle("wrong", found.length > 0);
    if (status.textContent !== words) status.textContent = words; // told anew only where it is news

    const [add, remove, undo, afresh] = this.stage.querySelectorAll("button");
    add.textContent = closed ? "Add corner" : count ? "Close the outline" : "Start with a rectangle";
    add.disabled = closed ? count >= data.most : count > 0 && count < 3;
    remove.disabled = selected === null || (closed && count <= 3);
    undo.disabled = !this.history.length && !this.before;
    afresh.disabled = !closed;
  }
}

const sketches = new WeakMap();

// Streamlit calls this each time it has news for the component; the drawing itself stays.
export default function ({ data, parentElement, setStateValue }) {
  const stage = parentElement.querySelector(".sketch");
  const sketch = sketches.get(stage) ?? new Sketch(stage);
  sketches.set(stage, sketch);
  sketch.receive(data, setStateValue);
  return () => {
    clearTimeout(sketch.timer);
    sketch.watch.disconnect();
    sketches.delete(stage);
  };
}
