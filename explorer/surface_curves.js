// The pick: what it is, its figures beside those of the design pointed at, its curves and drawings, one at a time.

const CURVE = { left: 44, right: 10, top: 12, bottom: 30, height: 250 };
const HERTZ = [10, 20, 30, 40, 60, 80, 100, 150, 200];
const DASHES = ["", "7 4", "2 3"];

class Curves {
  before = null; // the curves of the pick before this one
  now = null;
  constructor(host, stage) {
    this.host = host;
    this.stage = stage;
    const part = (name) => stage.querySelector(`.${name}`);
    [this.name, this.lines, this.table, this.tabs, this.chart, this.readout, this.caption] =
      ["name", "lines", "figures", "tabs", "chart", "readout", "caption"].map(part);
    this.place = part("place");
    stage.querySelector(".steps").addEventListener("click", ({ target }) => target.dataset.step && host.step(Number(target.dataset.step)));
    this.tabs.addEventListener("click", ({ target }) => target.dataset.tab && this.show(target.dataset.tab));
    this.tabs.addEventListener("keydown", (event) => this.turn(event));
    this.chart.addEventListener("pointermove", (event) => this.read(event));
    this.chart.addEventListener("pointerleave", () => this.read(null));
  }

  take(pick) {
    if (!pick?.curves) return;
    if (this.now && this.now.id !== pick.id) this.before = this.now;
    if (this.now?.id !== pick.id || this.now.stamp !== pick.stamp) this.now = { id: pick.id, stamp: pick.stamp, ...JSON.parse(pick.curves) };
  }

  draw() {
    const { host } = this;
    const i = host.chosen;
    const id = host.pickId;
    this.stage.classList.toggle("empty", !id);
    this.name.textContent = host.data.growing || (id ? `Pick ${id}` : "No pick yet");
    const known = host.data.pick?.id === id ? host.data.pick : null;
    const told = known?.lines ?? (i >= 0 ? [host.front.what(i)] : ["Click a design in either picture, or step through them with the arrow keys."]);
    const lines = told.map((line, k) => el(k ? "li" : "strong", {}, line));
    if (!same(told, this.told)) this.lines.replaceChildren(lines[0], el("ul", {}, ...lines.slice(1)));
    this.told = told;
    const { at, of } = host.stepping();
    this.place.textContent = of ? `${at || "–"} of ${of}` : "";
    this.figures();
    this.curve();
  }

  figures() {
    const { host } = this;
    const { front, chosen: i, pointed } = host;
    const beside = pointed >= 0 && pointed !== i ? pointed : -1;
    const own = host.data.pick?.id === host.pickId ? host.data.pick.figures : null; // of a pick that is on no front here
    const rows = host.beside.map((key) => {
      const figure = front.columns.get(key);
      const cells = [el("th", { scope: "row" }, figure.label), el("td", {}, i >= 0 ? figure.text(i) : own?.[key] ?? "–")];
      let other = "";
      if (beside >= 0) {
        const better = i >= 0 ? Math.sign(figure.good(beside) - figure.good(i)) : 0;
        other = el("td", { className: better > 0 ? "better" : better < 0 ? "worse" : "" },
          figure.text(beside), el("span", { className: "sense" }, better > 0 ? " better" : better < 0 ? " worse" : ""));
      }
      return el("tr", {}, ...cells, other || el("td"));
    });
    const head = el("tr", {}, el("th", { scope: "col" }, "Figure"), el("th", { scope: "col" }, i >= 0 ? host.data.growing || front.ids[i] : own ? host.pickId : "Pick"),
      el("th", { scope: "col" }, beside >= 0 ? front.ids[beside] : "pointed at"));
    this.table.replaceChildren(el("thead", {}, head), el("tbody", {}, ...rows));
  }

  show(key) {
    if (key === this.host.tab) return;
    this.host.tab = key;
    this.host.send({ does: "tab", key });
    this.curve();
  }
  turn(event) {
    const all = [...this.tabs.children];
    const now = all.findIndex((tab) => tab.dataset.tab === this.host.tab);
    const to = { ArrowRight: now + 1, ArrowLeft: now - 1, Home: 0, End: all.length - 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const tab = all[(to + all.length) % all.length];
    this.show(tab.dataset.tab);
    this.tabs.querySelector(`[data-tab="${tab.dataset.tab}"]`).focus();
  }

  curve() {
    const { host, now } = this;
    const pictures = host.data.pick?.pictures ?? {};
    const tracks = host.data.growing ? [] : now?.tracks ?? []; // of designs that come and go there are none
    const names = [...tracks.map((track) => [track.key, track.tab]), ...Object.entries(pictures).map(([key, { tab }]) => [key, tab])];
    if (!names.length) {
      this.tabs.replaceChildren();
      const waiting = host.data.pick?.waiting;
      this.chart.replaceChildren(...(waiting ? [el("p", {}, waiting)] : []));
      this.caption.textContent = this.readout.textContent = "";
      return;
    }
    if (!names.some(([key]) => key === host.tab)) host.tab = names[0][0];
    if (!same(names, this.named)) {
      this.tabs.replaceChildren(...names.map(([key, tab]) => {
        const made = el("button", { type: "button", role: "tab", id: `tab-${key}`, "aria-controls": "sheet" }, tab);
        made.dataset.tab = key;
        return made;
      }));
      this.named = names;
    }
    for (const tab of this.tabs.children) {
      const isShown = tab.dataset.tab === host.tab;
      tab.setAttribute("aria-selected", String(isShown));
      tab.tabIndex = isShown ? 0 : -1;
    }
    this.chart.setAttribute("aria-labelledby", `tab-${host.tab}`);
    this.chart.classList.toggle("stale", now.id !== host.pickId);
    const track = tracks.find(({ key }) => key === host.tab);
    if (track) this.line(track);
    else this.picture(pictures[host.tab]);
  }

  picture({ words, svg }) {
    this.readout.textContent = "";
    this.caption.textContent = svg ? words : "";
    const shown = svg ? el("img", { alt: words, src: `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}` }) : el("p", {}, "Being drawn…");
    this.chart.replaceChildren(shown);
  }

  line(track) {
    const { host, now, before } = this;
    const width = this.chart.clientWidth, height = CURVE.height;
    const old = before?.tracks.find(({ key }) => key === track.key);
    const low = Math.min(track.low, old?.low ?? track.low), high = Math.max(track.high, old?.high ?? track.high);
    const [w, h] = [width - CURVE.left - CURVE.right, height - CURVE.top - CURVE.bottom];
    this.x = (hz) => CURVE.left + (w * Math.log(hz / 10)) / Math.log(20);
    const y = (value) => CURVE.top + h - (h * (value - low)) / (high - low);
    const svg = shape("svg", { width, height, role: "img", "aria-label": track.words });
    svg.append(shape("defs"));
    svg.firstChild.append(shape("clipPath", { id: "room" }));
    svg.firstChild.firstChild.append(shape("rect", { x: CURVE.left, y: CURVE.top, width: Math.max(0, w), height: h }));
    const put = (tag, attributes, text) => svg.append(shape(tag, attributes, text));
    for (const hz of HERTZ) {
      put("line", { x1: this.x(hz), x2: this.x(hz), y1: CURVE.top, y2: CURVE.top + h, class: "grid" });
      if (width > 330 || ![80, 150].includes(hz)) put("text", { x: this.x(hz), y: height - 15, "text-anchor": "middle", class: "figure" }, String(hz));
    }
    put("text", { x: width - CURVE.right, y: height - 2, "text-anchor": "end", class: "title" }, "Frequency (Hz)");
    const values = ticks(low, high, 5);
    const step = values.length > 1 ? Number((values[1] - values[0]).toPrecision(6)) : 1;
    for (const value of values) {
      put("line", { x1: CURVE.left, x2: width - CURVE.right, y1: y(value), y2: y(value), class: "grid" });
      put("text", { x: CURVE.left - 5, y: y(value) + 4, "text-anchor": "end", class: "figure" }, plainNumber(value, step));
    }
    const path = (line, name, dash, frequency) => {
      let d = "", open = false;
      line.points.forEach((value, k) => {
        if (value !== null) d += `${open ? "L" : "M"}${this.x(frequency[k]).toFixed(1)},${y(value).toFixed(1)}`;
        open = value !== null;
      });
      put("path", { d, class: name, "stroke-dasharray": dash, "clip-path": "url(#room)" });
    };
    if (old) path(old.lines[0], "curve before", "", before.frequency);
    track.lines.forEach((line, k) => path(line, `curve c${k}`, DASHES[k], now.frequency));
    track.levels.forEach(([value, words]) => {
      put("line", { x1: CURVE.left, x2: width - CURVE.right, y1: y(value), y2: y(value), class: "bound" });
      put("text", { x: width - CURVE.right - 4, y: y(value) - 4, "text-anchor": "end", class: "mark" }, words);
    });
    track.marks.forEach(([hz, words], k) => {
      const leftward = this.x(hz) > width * 0.62;
      put("line", { x1: this.x(hz), x2: this.x(hz), y1: CURVE.top, y2: CURVE.top + h, class: "bound" });
      put("text", { x: this.x(hz) + (leftward ? -4 : 4), y: CURVE.top + h - 6 - 14 * (k % 4), "text-anchor": leftward ? "end" : "start", class: "mark" }, words);
    });
    svg.append(shape("line", { y1: CURVE.top, y2: CURVE.top + h, class: "reading", x1: -9, x2: -9 }));
    this.chart.replaceChildren(svg);
    this.track = track;
    const legend = track.lines.filter((line) => line.name).map((line, k) => `${k ? "- -" : "—"} ${line.name}`);
    if (old) legend.push(`faint: ${before.id}`);
    this.legend = `${track.title} (${track.unit}) ${now.id}${legend.length ? `: ${legend.join(", ")}` : ""}`;
    this.readout.textContent = this.legend;
    this.caption.textContent = track.caption;
  }

  // The values under the hand, in the line above the chart.
  read(event) {
    const reading = this.chart.querySelector(".reading");
    if (!reading || !this.now) return;
    if (!event) {
      reading.setAttribute("x1", -9), reading.setAttribute("x2", -9);
      this.readout.textContent = this.legend;
      return;
    }
    const at = event.clientX - this.chart.getBoundingClientRect().left;
    const { frequency } = this.now;
    const k = frequency.reduce((best, hz, i) => (Math.abs(this.x(hz) - at) < Math.abs(this.x(frequency[best]) - at) ? i : best), 0);
    reading.setAttribute("x1", this.x(frequency[k])), reading.setAttribute("x2", this.x(frequency[k]));
    const told = this.track.lines.filter((line) => line.points[k] !== null)
      .map((line) => `${line.name ? `${line.name} ` : ""}${line.points[k].toFixed(this.track.digits)} ${this.track.unit}`);
    this.readout.textContent = `${frequency[k].toFixed(1)} Hz: ${told.join(", ") || "nothing"}`;
  }
}
