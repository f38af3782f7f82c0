// All figures side by side: an axis each, better at the top or, where there is no room beside each other, to the right.

const UPRIGHT = { least: 92, name: 34, field: 28, track: 150 }; // px
const GRIP = "M-7,9L7,9L0,1Z";
const LYING = { row: 56, name: 18, field: 84 };

class Axes {
  axes = [];
  constructor(host, stage) {
    this.host = host;
    this.stage = stage;
    this.canvas = stage.querySelector("canvas");
    this.svg = stage.querySelector("svg");
    this.fields = stage.querySelector(".fields");
    stage.addEventListener("pointerdown", (event) => this.press(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    stage.addEventListener("pointerup", (event) => this.release(event));
    stage.addEventListener("pointercancel", () => this.letGo());
    stage.addEventListener("pointerleave", () => !this.held && this.host.point(-1));
  }

  get figures() {
    return this.host.beside.map((key) => this.host.front.columns.get(key)).filter(Boolean);
  }

  layout() {
    const count = this.figures.length;
    this.width = this.stage.clientWidth;
    this.lying = this.width / count < UPRIGHT.least;
    this.stage.classList.toggle("lying", this.lying);
    const wide = this.width / count;
    if (this.lying) {
      this.height = count * LYING.row;
      const [left, long] = [LYING.field + 12, this.width - 2 * (LYING.field + 12)];
      this.place = (k, good) => [left + good * long, k * LYING.row + LYING.name + 17];
      this.goodAt = (k, [x]) => clamp((x - left) / long, 0, 1);
      this.axisAt = ([, y]) => clamp(Math.floor(y / LYING.row), 0, count - 1);
    } else {
      const top = UPRIGHT.name + UPRIGHT.field + 10;
      this.height = top + UPRIGHT.track + UPRIGHT.field + 10;
      this.place = (k, good) => [(k + 0.5) * wide, top + (1 - good) * UPRIGHT.track];
      this.goodAt = (k, [, y]) => clamp(1 - (y - top) / UPRIGHT.track, 0, 1);
      this.axisAt = ([x]) => clamp(Math.floor(x / wide), 0, count - 1);
    }
    this.stage.style.height = `${this.height}px`;
  }

  // Names and fields: made anew only when the axes change, else somebody's typing would be lost.
  build() {
    const { host } = this;
    const made = JSON.stringify([host.data.stamp, this.figures.map((figure) => figure.key)]);
    if (made !== this.made) {
      this.made = made;
      this.axes = this.figures.map((figure) => {
        const made = (good) => {
          const end = (good ? figure.more : !figure.more) ? "high" : "low";
          const words = `${figure.title}, ${end === "high" ? "no more than" : "no less than"}`;
          const value = good ? figure.best : figure.worst;
          const input = el("input", { type: "text", autocomplete: "off", "aria-label": words, title: words, className: good ? "best" : "worst", placeholder: figure.extreme(value) });
          const field = { input, end, sent: null };
          input.addEventListener("change", () => host.typed(figure, end, (field.sent = input.value)));
          return field;
        };
        const ends = [made(true), made(false)];
        const fault = el("span", { className: "fault", role: "alert" });
        const name = el("span", { className: "name", title: `${figure.title} – ${figure.side}` }, figure.label);
        const element = el("div", { className: "axis", role: "group", "aria-label": figure.title }, name, ...ends.map(({ input }) => input), fault);
        return { figure, ends, fault, element };
      });
      this.fields.replaceChildren(...this.axes.map(({ element }) => element));
    }
    this.axes.forEach(({ figure, ends, fault, element }, k) => {
      const style = element.style;
      if (this.lying) Object.assign(style, { left: 0, width: "100%", top: `${k * LYING.row}px`, height: `${LYING.row}px` });
      else Object.assign(style, { left: `${(k * this.width) / this.axes.length}px`, width: `${this.width / this.axes.length}px`, top: 0, height: `${this.height}px` });
      const wrong = host.fault?.key === figure.key ? host.fault : null;
      for (const field of ends) {
        const { input, end } = field;
        const bound = host.ranges[figure.key]?.[end === "low" ? 0 : 1];
        const isWrong = wrong?.end === end;
        // What is being typed stays; what was typed reads as it was understood once Python has answered.
        const isBeingTyped = input === input.getRootNode().activeElement && input.value !== field.sent;
        if (!isWrong && !isBeingTyped && !host.queue.length) {
          input.value = bound?.text ?? "";
          field.sent = null;
        }
        input.setAttribute("aria-invalid", String(isWrong));
        input.classList.toggle("set", Boolean(bound));
      }
      const words = wrong?.words ?? "";
      if (fault.textContent !== words) fault.textContent = words;
      fault.classList.toggle("below", wrong ? ends.find(({ end }) => end === wrong.end).input.className.includes("worst") : false);
    });
  }

  draw() {
    const { host } = this;
    const { front, ink } = host;
    this.layout();
    this.build();
    const pen = sharp(this.canvas, this.width, this.height);
    const line = (i) => {
      const path = new Path2D();
      this.axes.forEach(({ figure }, k) => path[k ? "lineTo" : "moveTo"](...this.place(k, figure.good(i))));
      return path;
    };
    const few = new Set(host.few);
    const many = host.kept > 200;
    pen.lineWidth = 1;
    const keptOut = Math.max(1, Math.ceil((front.count - host.kept) / 300)); // the rest of what is left out looks alike
    pen.strokeStyle = ink.guide;
    pen.globalAlpha = 0.07;
    for (let i = 0; i < front.count; i += keptOut) if (!host.passes[i]) pen.stroke(line(i));
    const skip = Math.max(1, Math.ceil(host.kept / 700));
    for (let i = 0, seen = 0; i < front.count; i++) {
      if (!host.passes[i] || few.has(i) || seen++ % skip) continue;
      pen.globalAlpha = many ? 0.13 : 0.3;
      pen.strokeStyle = host.colour(i);
      pen.stroke(line(i));
    }
    pen.globalAlpha = 0.85;
    pen.lineWidth = 1.5;
    for (const i of host.few) {
      if (!host.passes[i]) continue;
      pen.strokeStyle = host.colour(i);
      pen.stroke(line(i));
    }
    this.over();
  }

  over() {
    const { host, svg } = this;
    svg.replaceChildren();
    svg.setAttribute("height", this.height);
    const path = (i, name) => {
      const points = this.axes.map(({ figure }, k) => this.place(k, figure.good(i)).map((v) => v.toFixed(1)).join(","));
      svg.append(shape("polyline", { points: points.join(" "), class: name }));
    };
    this.axes.forEach(({ figure }, k) => {
      const [[x1, y1], [x2, y2]] = [this.place(k, 0), this.place(k, 1)];
      svg.append(shape("line", { x1, y1, x2, y2, class: "upright" }));
      const [low, high] = this.goods(figure);
      const [a, b] = [this.place(k, low), this.place(k, high)];
      if (low > 0 || high < 1) {
        const [x, y] = [Math.min(a[0], b[0]), Math.min(a[1], b[1])];
        const box = this.lying ? { x, y: y - 5, width: Math.abs(a[0] - b[0]), height: 10 } : { x: x - 5, y, width: 10, height: Math.abs(a[1] - b[1]) };
        svg.append(shape("rect", { ...box, class: "range" }));
      }
      const turns = this.lying ? [90, -90] : [0, 180]; // a grip lies outside its end
      [a, b].forEach((at, end) => svg.append(shape("path", { d: GRIP, transform: `translate(${at}) rotate(${turns[end]})`, class: "grip" })));
    });
    for (const [i] of host.marked()) path(i, i === host.chosen ? "chosen" : "listed");
    if (host.pointed >= 0) path(host.pointed, "pointed");
  }

  // The kept stretch of an axis, as goodness.
  goods(figure) {
    const range = this.host.ranges[figure.key] ?? [null, null];
    const ends = range.map((bound, k) => clamp(figure.goodness(bound?.value ?? (k ? figure.high : figure.low)), 0, 1));
    return [Math.min(...ends), Math.max(...ends)];
  }

  where(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  // The design whose line runs nearest to a place, if near enough.
  nearest(at) {
    const { front, passes, few } = this.host;
    const along = this.lying ? 1 : 0;
    let k = this.axisAt(at);
    const [low, high] = [this.place(0, 0)[along], this.place(this.axes.length - 1, 0)[along]];
    if (at[along] < low - 30 || at[along] > high + 30) return -1;
    if (at[along] < this.place(k, 0)[along]) k -= 1;
    const first = clamp(k, 0, Math.max(0, this.axes.length - 2)), next = Math.min(first + 1, this.axes.length - 1);
    const [a, b] = [this.place(first, 0)[along], this.place(next, 0)[along]];
    const share = b > a ? clamp((at[along] - a) / (b - a), 0, 1) : 0;
    const across = 1 - along;
    const known = new Set(few);
    let best = -1, least = 14;
    for (let i = 0; i < front.count; i++) {
      if (!passes[i]) continue;
      const [p, q] = [this.place(first, this.axes[first].figure.good(i)), this.place(next, this.axes[next].figure.good(i))];
      const far = Math.abs(p[across] + share * (q[across] - p[across]) - at[across]) * (known.has(i) ? 0.6 : 1);
      if (far < least) [best, least] = [i, far];
    }
    return best;
  }

  press(event) {
    if (event.button || event.target.closest("input")) return;
    const at = this.where(event);
    const k = this.axisAt(at), across = this.lying ? 1 : 0;
    const inTrack = this.lying ? at[0] > LYING.field && at[0] < this.width - LYING.field : at[1] > UPRIGHT.name + UPRIGHT.field;
    if (!inTrack) return;
    this.from = at;
    if (Math.abs(at[across] - this.place(k, 0)[across]) > 16) return;
    const ends = this.goods(this.axes[k].figure);
    const outward = this.lying ? [[-5, 0], [5, 0]] : [[0, 5], [0, -5]];
    const far = ends.map((good, end) => {
      const [x, y] = this.place(k, good);
      return Math.hypot(x + outward[end][0] - at[0], y + outward[end][1] - at[1]);
    });
    const end = far[0] < far[1] ? 0 : 1;
    this.held = { k, fixed: far[end] < 16 ? ends[1 - end] : this.goodAt(k, at), moving: null };
    this.stage.setPointerCapture(event.pointerId);
  }
  move(event) {
    const at = this.where(event);
    if (!this.held) {
      if (!event.target.closest("input")) this.host.point(this.nearest(at));
      return;
    }
    if (this.held.moving === null && Math.hypot(at[0] - this.from[0], at[1] - this.from[1]) < LEAST_DRAG) return;
    this.held.moving = this.goodAt(this.held.k, at);
    this.host.narrow(this.axes[this.held.k].figure, ...this.bounds(), false);
  }
  bounds() {
    const { k, fixed, moving } = this.held;
    const figure = this.axes[k].figure;
    const [worst, best] = [Math.min(fixed, moving), Math.max(fixed, moving)];
    const [w, b] = [worst < 0.004 ? null : figure.valueAt(worst), best > 0.996 ? null : figure.valueAt(best)];
    return figure.more ? [w, b] : [b, w];
  }
  release(event) {
    const { held, from } = this;
    if (held && held.moving !== null) this.host.narrow(this.axes[held.k].figure, ...this.bounds());
    else if (from) {
      const i = this.nearest(this.where(event));
      if (i >= 0) this.host.choose(i);
    }
    this.letGo();
  }
  letGo() {
    this.held = this.from = null;
  }
}
