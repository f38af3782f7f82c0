// The front with two figures against each other: a canvas for thousands of designs, drawn over it what is marked.

const EDGE = { left: 58, right: 14, top: 10, bottom: 40 }; // px round the picture, for figures

class Scatter {
  constructor(host, stage) {
    this.host = host;
    this.stage = stage;
    this.canvas = stage.querySelector("canvas");
    this.svg = stage.querySelector("svg");
    stage.addEventListener("pointerdown", (event) => this.press(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    stage.addEventListener("pointerup", (event) => this.release(event));
    stage.addEventListener("pointercancel", () => this.letGo());
    stage.addEventListener("pointerleave", () => !this.from && this.host.point(-1));
    stage.addEventListener("keydown", (event) => this.host.key(event));
  }

  get figures() {
    const { front, axes } = this.host;
    return [front.columns.get(axes.x), front.columns.get(axes.y)];
  }

  layout() {
    const [x, y] = this.figures;
    this.width = this.stage.clientWidth;
    this.height = this.stage.clientHeight;
    const room = (figure) => 0.05 * (figure.high - figure.low || 1);
    this.ends = [x, y].map((figure) => [figure.low - room(figure), figure.high + room(figure)]);
    const [[left, right], [bottom, top]] = this.ends;
    const [w, h] = [this.width - EDGE.left - EDGE.right, this.height - EDGE.top - EDGE.bottom];
    this.x = (value) => EDGE.left + (w * (value - left)) / (right - left);
    this.y = (value) => EDGE.top + h - (h * (value - bottom)) / (top - bottom);
    this.back = (px, py) => [left + ((px - EDGE.left) * (right - left)) / w, bottom + ((EDGE.top + h - py) * (top - bottom)) / h];
  }

  draw() {
    const { host } = this;
    const { front, ink } = host;
    this.layout();
    const [x, y] = this.figures;
    const pen = sharp(this.canvas, this.width, this.height);
    this.places = new Float32Array(2 * front.count);
    for (let i = 0; i < front.count; i++) {
      this.places[2 * i] = this.x(x.at(i));
      this.places[2 * i + 1] = this.y(y.at(i));
    }
    const at = (i) => [this.places[2 * i], this.places[2 * i + 1]];
    // What stands behind, then what does not pass, then what does, then the few.
    const behind = host.data.behind;
    if (behind[host.axes.x] && behind[host.axes.y]) {
      pen.strokeStyle = ink.text;
      pen.globalAlpha = 0.3;
      const [across, up] = this.ends;
      behind[host.axes.x].forEach((value, i) => {
        const other = behind[host.axes.y][i];
        if (value < across[0] || value > across[1] || other < up[0] || other > up[1]) return; // beside the picture
        pen.stroke(new Path2D(outline("circle", this.x(value), this.y(other), 3)));
      });
    }
    pen.globalAlpha = 0.28;
    pen.fillStyle = ink.guide;
    for (let i = 0; i < front.count; i++) if (!host.passes[i]) pen.fillRect(at(i)[0] - 1, at(i)[1] - 1, 2, 2);
    const few = new Set(host.few);
    const many = host.kept > 400;
    for (let i = 0; i < front.count; i++) {
      if (!host.passes[i] || few.has(i)) continue;
      pen.globalAlpha = many ? 0.55 : 0.75;
      pen.fillStyle = host.colour(i);
      pen.fill(new Path2D(outline(host.mark(i), ...at(i), many ? 2.4 : 3.2)));
    }
    pen.globalAlpha = 1;
    pen.lineWidth = 1.4;
    for (const i of host.few) {
      if (!host.passes[i]) continue;
      const path = new Path2D(outline(host.mark(i), ...at(i), 5.5));
      pen.fillStyle = host.colour(i);
      pen.strokeStyle = ink.text;
      pen.fill(path);
      pen.stroke(path);
    }
    this.over();
  }

  // What changes as the hand moves.
  over() {
    const { host, svg } = this;
    const { ink, front } = host;
    const [x, y] = this.figures;
    svg.replaceChildren();
    const foot = this.height - EDGE.bottom;
    const axis = (figure, values, place) => {
      const step = values.length > 1 ? values[1] - values[0] : 1;
      for (const value of values) svg.append(place(value, plainNumber(value, Number(step.toPrecision(6)))));
    };
    const [[left, right], [bottom, top]] = this.ends;
    const g = (...parts) => { const group = shape("g"); group.append(...parts); return group; };
    axis(x, ticks(left, right, Math.max(3, this.width / 110)), (value, text) => g(
      shape("line", { x1: this.x(value), x2: this.x(value), y1: EDGE.top, y2: foot, class: "grid" }),
      shape("text", { x: this.x(value), y: foot + 14, "text-anchor": "middle", class: "figure" }, text)));
    axis(y, ticks(bottom, top, Math.max(3, this.height / 60)), (value, text) => g(
      shape("line", { x1: EDGE.left, x2: this.width - EDGE.right, y1: this.y(value), y2: this.y(value), class: "grid" }),
      shape("text", { x: EDGE.left - 6, y: this.y(value) + 4, "text-anchor": "end", class: "figure" }, text)));
    svg.append(shape("text", { x: this.width - EDGE.right, y: this.height - 6, "text-anchor": "end", class: "title" },
      `${x.title} – ${x.side}`));
    const upright = { x: 0, y: 0, "text-anchor": "end", class: "title", transform: `translate(12 ${EDGE.top}) rotate(-90)` };
    svg.append(shape("text", upright, this.height > 240 ? `${y.title} – ${y.side}` : y.title));
    this.kept();
    for (const [i, words] of host.marked())
      this.ring(i, 9, "marked", words);
    if (host.pointed >= 0) this.ring(host.pointed, 8, "pointed", front.ids[host.pointed]);
    if (this.to) {
      const [[ax, ay], [bx, by]] = [this.from, this.to];
      svg.append(shape("rect", { x: Math.min(ax, bx), y: Math.min(ay, by), width: Math.abs(ax - bx), height: Math.abs(ay - by), class: "brush" }));
    }
    svg.style.setProperty("--paper", ink.paper);
  }

  kept() {
    const { ranges, axes } = this.host;
    const [across, up] = [ranges[axes.x], ranges[axes.y]];
    if (!across && !up) return;
    const place = (range, scale, low, high) => [range?.[0] ? scale(range[0].value) : low, range?.[1] ? scale(range[1].value) : high];
    const [left, right] = place(across, this.x, EDGE.left, this.width - EDGE.right);
    const [foot, roof] = place(up, this.y, this.height - EDGE.bottom, EDGE.top);
    this.svg.append(shape("rect", { x: left, y: roof, width: Math.max(0, right - left), height: Math.max(0, foot - roof), class: "kept" }));
  }

  ring(i, size, name, words) {
    const [x, y] = [this.places[2 * i], this.places[2 * i + 1]];
    const leftward = x > this.width - 90;
    const text = { x: x + (leftward ? -13 : 13), y: Math.max(y - 9, 14), "text-anchor": leftward ? "end" : "start" };
    this.svg.append(shape("path", { d: outline(this.host.mark(i), x, y, size), class: `ring ${name}` }),
      shape("text", { ...text, class: `mark ${name}` }, words));
  }

  where(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  // The nearest design that passes, if one is near enough; the few are easier to hit.
  nearest([px, py], reach = REACH) {
    let best = -1, least = reach * reach;
    const few = new Set(this.host.few);
    for (let i = 0; i < this.host.front.count; i++) {
      if (!this.host.passes[i]) continue;
      const far = ((this.places[2 * i] - px) ** 2 + (this.places[2 * i + 1] - py) ** 2) * (few.has(i) ? 0.5 : 1);
      if (far < least) [best, least] = [i, far];
    }
    return best;
  }

  press(event) {
    if (event.button) return;
    this.from = this.where(event);
  }
  move(event) {
    const here = this.where(event);
    if (!this.from) return this.host.point(this.nearest(here));
    if (!this.to && Math.hypot(here[0] - this.from[0], here[1] - this.from[1]) < LEAST_DRAG) return;
    if (!this.to) this.stage.setPointerCapture(event.pointerId);
    this.to = [clamp(here[0], EDGE.left, this.width - EDGE.right), clamp(here[1], EDGE.top, this.height - EDGE.bottom)];
    this.over();
  }
  release(event) {
    const { from, to } = this;
    this.letGo();
    if (!from) return;
    if (!to) {
      const i = this.nearest(this.where(event), 60);
      if (i >= 0) this.host.choose(i);
      return;
    }
    const [a, b] = [this.back(...from), this.back(...to)];
    const [x, y] = this.figures;
    [x, y].forEach((figure, k) => {
      const [low, high] = [Math.min(a[k], b[k]), Math.max(a[k], b[k])];
      this.host.narrow(figure, low <= figure.low ? null : tidy(low, figure.step), high >= figure.high ? null : tidy(high, figure.step));
    });
  }
  letGo() {
    this.from = this.to = null;
    if (this.places) this.over();
  }
}

function sharp(canvas, width, height) {
  const scale = window.devicePixelRatio || 1;
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  canvas.style.width = `${width}px`;
  canvas.style.height = `${height}px`;
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  return pen;
}
