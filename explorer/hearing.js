// Several renderings of one sound, to switch between while it plays.  All are started at the same moment and run on
// together; a switch only fades from one to the other, so nothing is lost or repeated.  Nothing plays by itself.

const FADE = 0.04; // s, from one to the other, and at start and stop
const LEAST = -60; // dB
const FIRST = -36; // dB, what it starts with: low
const SKELETON = `
  <div class="tools">
    <button type="button" data-do="toggle">Play</button>
    <div class="which" role="radiogroup" aria-label="Which of them is heard"></div>
    <label class="loud">Volume
      <input type="range" min="${LEAST}" max="0" step="1" value="${FIRST}"><span class="figure" aria-hidden="true"></span></label>
  </div>
  <div class="run" aria-hidden="true"><div></div></div>
  <p class="status" role="status"></p>`;
const ARROWS = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 };

const bytes = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)).buffer;
const factor = (decibels) => (decibels <= LEAST ? 0 : 10 ** (decibels / 20));

class Hearing {
  names = [];
  heard = 0; // which of them
  context = null;
  buffers = []; // decoded, or promised
  playing = null; // {sources, gains, start}
  turn = 0; // of the sounds, so that what was decoded for earlier ones is passed over

  constructor(stage) {
    stage.innerHTML = SKELETON;
    this.stage = stage;
    this.play = stage.querySelector("[data-do]");
    this.which = stage.querySelector(".which");
    this.loud = stage.querySelector("input");
    this.play.addEventListener("click", () => (this.playing ? this.stop() : this.start()));
    this.loud.addEventListener("input", () => this.turnUp());
    this.which.addEventListener("click", ({ target }) => this.choose([...this.which.children].indexOf(target)));
    stage.addEventListener("keydown", this.key.bind(this));
    this.turnUp();
  }

  // What Python says: other sounds end what plays, the same ones change nothing.
  receive(data) {
    if (data.digest === this.digest) return;
    this.stop();
    Object.assign(this, { digest: data.digest, names: data.names, sounds: data.sounds, buffers: [], turn: this.turn + 1 });
    this.heard = Math.min(this.heard, this.names.length - 1);
    this.which.replaceChildren(...this.names.map((name, place) => {
      const button = document.createElement("button");
      Object.assign(button, { type: "button", textContent: name });
      button.setAttribute("role", "radio");
      button.setAttribute("aria-label", `Hear ${data.described[place]}`);
      return button;
    }));
    this.draw();
  }

  async start() {
    if (this.starting) return;
    this.starting = true;
    const turn = this.turn;
    try {
      this.context ??= new AudioContext();
      await this.context.resume();
      if (!this.buffers.length) {
        const all = this.sounds.map((sound) => this.context.decodeAudioData(bytes(sound)));
        const found = await Promise.all(all);
        if (turn === this.turn) this.buffers = found;
      }
    } catch {
      this.tell("This browser cannot play the sound.");
    }
    this.starting = false;
    if (turn !== this.turn || !this.buffers.length || !this.stage.isConnected) return;
    const { context } = this;
    const master = new GainNode(context, { gain: 0 });
    master.connect(context.destination);
    const gains = this.buffers.map((_, place) => new GainNode(context, { gain: place === this.heard ? 1 : 0 }));
    const sources = this.buffers.map((buffer) => new AudioBufferSourceNode(context, { buffer, loop: true }));
    const begin = context.currentTime + 0.05;
    sources.forEach((source, place) => {
      source.connect(gains[place]).connect(master);
      source.start(begin);
    });
    this.playing = { sources, gains, master, begin, seconds: this.buffers[0].duration };
    this.turnUp();
    this.draw();
    this.run();
  }

  stop() {
    if (!this.playing) return;
    const { sources, master } = this.playing;
    this.fade(master.gain, 0);
    sources.forEach((source) => source.stop(this.context.currentTime + 2 * FADE));
    this.playing = null;
    this.draw();
  }

  choose(place) {
    if (place < 0 || place >= this.names.length) return;
    this.heard = place;
    this.playing?.gains.forEach((gain, number) => this.fade(gain.gain, number === place ? 1 : 0));
    this.draw();
  }

  // Straight, since what is faded is nearly the same sound: the sum stays as loud.
  fade(gain, value) {
    const now = this.context.currentTime;
    const at = gain.value;
    gain.cancelScheduledValues(now);
    gain.setValueAtTime(at, now);
    gain.linearRampToValueAtTime(value, now + FADE);
  }

  turnUp() {
    const decibels = Number(this.loud.value);
    const words = decibels <= LEAST ? "silent" : `${String(decibels).replace("-", "−")} dB`;
    this.stage.querySelector(".figure").textContent = words;
    this.loud.setAttribute("aria-valuetext", words);
    if (this.playing) this.fade(this.playing.master.gain, factor(decibels));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target === this.loud) return;
    const letter = this.names.findIndex((name) => name.toLowerCase() === event.key.toLowerCase());
    const isIn = this.which.contains(event.target);
    const count = this.names.length;
    if (letter >= 0) this.choose(letter);
    else if (isIn && event.key in ARROWS) this.choose((this.heard + ARROWS[event.key] + count) % count);
    else return;
    if (isIn) this.which.children[this.heard].focus();
    event.preventDefault();
    event.stopPropagation();
  }

  run() {
    const bar = this.stage.querySelector(".run div");
    if (!this.playing || !this.stage.isConnected) return void (bar.style.width = 0);
    const { begin, seconds } = this.playing;
    bar.style.width = `${(100 * (Math.max(this.context.currentTime - begin, 0) % seconds)) / seconds}%`;
    requestAnimationFrame(() => this.run());
  }

  draw() {
    this.play.textContent = this.playing ? "Stop" : "Play";
    [...this.which.children].forEach((button, place) => {
      button.setAttribute("aria-checked", place === this.heard);
      button.tabIndex = place === this.heard ? 0 : -1;
    });
    const name = this.names[this.heard];
    const keys = this.names.join(" or ");
    this.tell(this.playing ? `You hear ${name}.` : `${name} is heard first. The keys ${keys} switch while it plays.`);
  }

  tell(words) {
    const status = this.stage.querySelector(".status");
    if (status.textContent !== words) status.textContent = words;
  }

  end() {
    this.stop();
    this.turn += 1;
    this.context?.close();
    this.context = null;
  }
}

const stages = new WeakMap();

// Streamlit calls this each time it has news for the component; what plays goes on.
export default function ({ data, parentElement }) {
  const stage = parentElement.querySelector(".hearing");
  const hearing = stages.get(stage) ?? new Hearing(stage);
  stages.set(stage, hearing);
  hearing.receive(data);
  return () => {
    hearing.end();
    stages.delete(stage);
  };
}
