// The viewer: one photo, what was seen drawn over it, and handles that can be dragged or moved by the keyboard.
// Places are in pixels of the upright picture; pixel centres are integers.

import { byId, getJson, post } from "./common.js";
import { Handles } from "./handles.js";
import { Placing } from "./placing.js";

const SVG = "http://www.w3.org/2000/svg";
const MOST_ZOOM = 8;
const TAP_PX = 5;

export class Viewer {
  constructor(base, changed) {
    this.base = base;
    this.changed = changed;
    this.port = byId("viewport");
    this.image = byId("shown");
    this.marks = byId("marks");
    this.handles = new Handles(this);
    this.placing = new Placing(this);
    this.changes = 0; // that were begun: a drawing asked for before the last of them is an old one
    this.sending = 0; // changes that are not answered yet
    this.correcting = false;
    this.wanted = null; // where to look, once the photo is drawn
    this.photos = [];
    this.photo = "";
    this.side = "";
    this.data = null;
    this.view = { x: 0, y: 0, scale: 1 };
    this.listen();
  }

  // Shows the handles whose name begins so, if there are any.
  choose(words) {
    const move = byId("move");
    const found = [...move.options].find((o) => o.value.startsWith(words));
    if (!found) return;
    move.value = found.value;
    if (!this.correcting) this.correct(true);
    this.chosen();
  }

  // Handles appear only after somebody chose to correct: looking and panning never move a mark.
  correct(on) {
    this.correcting = on;
    byId("correct").setAttribute("aria-pressed", String(on));
    byId("correct").textContent = on ? "Stop correcting" : "Correct";
    byId("correcting").hidden = !on;
    this.port.classList.toggle("correcting", on);
    document.documentElement.classList.toggle("in-hand", on);
    if (!on) this.handles.drop();
    if (this.data) this.chosen(false);
    if (on) post(`${this.base}/ready`).catch(() => {});
  }

  // Whether somebody corrects or places something: then the page may not move away under his hand.
  get inHand() {
    return this.correcting || Boolean(this.placing.kind);
  }

  shown() {
    return this.correcting ? this.group().handles : [];
  }

  chosen(look = true) {
    this.handles.make(this.shown());
    this.place();
    if (look) this.zoomTo(this.group().around, 120);
  }

  told(side, done, nothing) {
    const here = this.photos.find((p) => p.id === this.photo)?.name ?? "";
    return side ? `${done}${here.startsWith(side) ? "" : `: ${side.toLowerCase()}`}.` : nothing;
  }

  // Brings list and drawing up to date.
  async update(photos) {
    const pick = byId("pick");
    const wanted = photos.map((p) => p.id).join();
    if (pick.dataset.ids !== wanted) {
      pick.dataset.ids = wanted;
      pick.replaceChildren(...photos.map((p) => new Option(p.name, p.id)));
    }
    this.photos = photos;
    await this.open(photos.some((p) => p.id === this.photo) ? this.photo : photos[0]?.id ?? "");
  }

  // What was begun in another photo, and not sent, is let go.
  turnTo(photo, at = null) {
    if (at !== null) this.wanted = at; // where to look, once it is drawn
    if (photo === this.photo) return;
    this.photo = photo;
    this.handles.clear();
    this.placing.cancel();
  }

  async open(photo) {
    this.turnTo(photo);
    byId("pick").value = photo;
    this.side = this.photos.find((p) => p.id === photo)?.side ?? "";
    if (photo) await this.load();
    else this.say("There are no photos yet.");
  }

  async load() {
    const asked = this.photo, changes = this.changes;
    let data;
    try {
      data = await getJson(`${this.base}/photo/${asked}/drawing`);
    } catch (error) {
      this.say(error.message);
      return;
    }
    if (asked !== this.photo || changes !== this.changes || this.sending) return;
    const other = this.image.dataset.photo !== asked;
    if (other) {
      this.image.dataset.photo = asked;
      this.image.src = `${this.base}/photo/${asked}/full.jpg`;
      this.image.alt = `Photo ${byId("pick").selectedOptions[0]?.text ?? ""}`;
    }
    // What is drawn already stays, and so does what was last said.
    if (other || JSON.stringify(data) !== this.drawn) this.show(data);
    if (other) this.fit();
    this.lookAt();
  }

  // Goes to where a link pointed.
  lookAt() {
    const at = this.wanted;
    this.wanted = null;
    if (at === null) return;
    if (at === "end") this.zoomTo(this.ends(), 90);
    else if (at === "bosses") this.zoomTo(this.data.drawing.outlines.flat(), 60);
    else if (at === "" && this.data) this.fit();
    else this.zoomTo(this.data.drawing.groups.find((group) => group.handles[0]?.what === at)?.around ?? [], 60);
  }

  // What can be taken back, and done again.
  history({ undo, redo }) {
    byId("undo").disabled = !undo;
    byId("redo").disabled = !redo;
  }

  show(data) {
    this.data = data;
    this.drawn = JSON.stringify(data);
    const unusable = byId("unusable");
    unusable.setAttribute("aria-pressed", String(data.unusable));
    unusable.textContent = data.unusable ? "Use this photo again" : "Mark photo as unusable";
    byId("clear").disabled = !data.placed;
    this.fillMove();
    this.placing.offer(data.gauges, data.places);
    this.draw();
    this.port.dataset.ready = this.photo;
    if (data.unusable) this.say("This photo is marked as unusable.");
    else if (!data.target) this.say("No target is seen in this photo: nothing can be measured or placed in it.");
    else if (!data.measured) this.say("Not measured, or left out: only what a first look saw is drawn. You can place gauge and bosses by hand.");
    else this.say(data.placed ? "Something was placed by hand in this photo." : "");
    byId("correct").disabled = !this.correcting && !data.drawing.groups.length;
  }

  say(words) {
    byId("viewer-say").textContent = words;
  }

  fillMove() {
    const move = byId("move");
    const labels = this.data.drawing.groups.map((g) => g.label);
    move.disabled = !labels.length;
    if (move.dataset.of === labels.join()) return;
    move.dataset.of = labels.join();
    const before = move.selectedOptions[0]?.text;
    move.replaceChildren(...labels.map((label) => new Option(label, label, false, label === before)));
  }

  // The handles that are shown, and where to look for them.
  group() {
    const label = byId("move").value;
    return this.data.drawing.groups.find((g) => g.label === label) ?? { handles: [], around: [] };
  }

  async change(path, body) {
    this.changes += 1;
    this.sending += 1;
    try {
      return await post(path, body);
    } finally {
      this.sending -= 1;
    }
  }

  // Sends marks, and draws what comes of them; false if they are not taken. ``answered`` is called before that.
  async send(marks, bosses = null, answered = () => {}) {
    const { photo, side } = this;
    this.say("Adjusting …");
    const begun = performance.now();
    try {
      const data = await this.change(`${this.base}/side/${side}/place`, { photo, marks, bosses });
      answered();
      if (photo === this.photo) this.show(data);
    } catch (error) {
      answered();
      this.say(error.message);
      return false;
    }
    await this.changed();
    this.port.dataset.took = String(Math.round(performance.now() - begun));
    return true;
  }

  // ---- drawing

  draw() {
    const d = this.data.drawing;
    const parts = [];
    const line = (points, kind, closed = false) => {
      const el = document.createElementNS(SVG, closed ? "polygon" : "polyline");
      el.setAttribute("points", points.map(([x, y]) => `${x + 0.5},${y + 0.5}`).join(" "));
      el.setAttribute("class", kind);
      parts.push(el);
    };
    for (const [k, p] of d.outlines.entries()) line(p, d.inferred.includes(k) ? "outline inferred" : "outline", true);
    for (const e of d.edges) line(e.points, e.seen ? e.kind : `${e.kind} inferred`);
    for (const p of d.centrelines) line(p, "centreline");
    for (const p of d.gauges) line(p, "gauge");
    this.dots = [
      ...d.corners.map((p) => [p, "corner"]), ...d.unused.map((p) => [p, "unused"]),
      ...d.ends.map((p) => [p, "end"]), ...d.seats.map((p) => [p, "seat"]),
      ...d.crossings.map((p) => [p, "crossing"]), ...(d.axis ? [[d.axis, "axis"]] : []),
    ].map(([p, kind]) => {
      const el = document.createElementNS(SVG, "path");
      el.setAttribute("class", kind);
      parts.push(el);
      return { el, p, kind };
    });
    this.marks.replaceChildren(...parts);
    this.handles.make(this.shown());
    this.place();
  }

  // Sets image, drawing and handles to the view.
  place() {
    if (!this.data) return;
    const { x, y, scale } = this.view;
    const { width, height } = this.data.drawing;
    const w = this.port.clientWidth, h = this.port.clientHeight;
    if (!w || !h) return;
    this.image.style.width = `${width}px`;
    this.image.style.height = `${height}px`;
    this.image.style.transform = `translate(${-x * scale}px, ${-y * scale}px) scale(${scale})`;
    this.marks.setAttribute("viewBox", `${x} ${y} ${w / scale} ${h / scale}`);
    for (const { el, p, kind } of this.dots ?? []) el.setAttribute("d", shape(kind, p[0] + 0.5, p[1] + 0.5, 1 / scale, this.along()));
    this.handles.place();
    this.placing.draw();
  }

  // From pixels of the photo to the screen, and back.
  toScreen([x, y]) {
    return [(x + 0.5 - this.view.x) * this.view.scale, (y + 0.5 - this.view.y) * this.view.scale];
  }

  toPhoto([left, top]) {
    return this.inside([left / this.view.scale + this.view.x - 0.5, top / this.view.scale + this.view.y - 0.5]);
  }

  inside([x, y]) {
    const { width, height } = this.data.drawing;
    return [Math.min(width - 1, Math.max(0, x)), Math.min(height - 1, Math.max(0, y))];
  }

  along(gauge = 0) {
    const g = this.data.drawing.gauges[gauge] ?? this.data.drawing.gauges[0];
    if (!g || g.length < 2) return [1, 0];
    const [a, b] = [g[g.length - 2], g[g.length - 1]];
    const n = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    return [(b[0] - a[0]) / n, (b[1] - a[1]) / n];
  }

  // ---- looking

  fit() {
    const { width, height } = this.data.drawing;
    this.window(0, 0, width, height, 1);
    this.fitted = true;
  }

  window(x0, y0, x1, y1, margin = 1.3) {
    const w = this.port.clientWidth, h = this.port.clientHeight;
    if (!w || !h) return; // not shown: it fits itself when it is
    const scale = Math.min(w / ((x1 - x0) * margin), h / ((y1 - y0) * margin), MOST_ZOOM);
    this.fitted = false;
    this.view = { scale, x: (x0 + x1) / 2 - w / scale / 2, y: (y0 + y1) / 2 - h / scale / 2 };
    this.place();
  }

  zoom(factor, cx = this.port.clientWidth / 2, cy = this.port.clientHeight / 2) {
    if (!this.data) return;
    this.fitted = false;
    const least = 0.5 * Math.min(this.port.clientWidth / this.data.drawing.width, this.port.clientHeight / this.data.drawing.height);
    const scale = Math.min(MOST_ZOOM, Math.max(least, this.view.scale * factor));
    this.view.x += cx / this.view.scale - cx / scale;
    this.view.y += cy / this.view.scale - cy / scale;
    this.view.scale = scale;
    this.place();
  }

  pan(dx, dy) {
    this.fitted = false;
    this.view.x -= dx / this.view.scale;
    this.view.y -= dy / this.view.scale;
    this.place();
  }

  // The far end of the gauge that is being moved; else of the first one.
  ends() {
    const end = this.group().handles.find((h) => h.what === "end");
    return end ? [end.at] : this.data.drawing.ends.slice(0, 1);
  }

  zoomTo(points, room) {
    if (!points.length) return;
    const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
    this.window(Math.min(...xs) - room, Math.min(...ys) - room, Math.max(...xs) + room, Math.max(...ys) + room);
  }

  // ---- listening

  listen() {
    const on = (id, kind, act) => byId(id).addEventListener(kind, act);
    on("pick", "change", (event) => this.open(event.target.value));
    on("move", "change", () => this.chosen());
    on("correct", "click", () => this.correct(!this.correcting));
    addEventListener("keydown", (event) => this.key(event));
    on("zoom-in", "click", () => this.zoom(1.5));
    on("zoom-out", "click", () => this.zoom(1 / 1.5));
    on("zoom-fit", "click", () => this.data && this.fit());
    on("zoom-hub", "click", () => this.data && this.zoomTo(this.data.drawing.outlines.flat(), 60));
    on("zoom-end", "click", () => this.data && this.zoomTo(this.ends(), 90));
    const act = (id, ask, said) => on(id, "click", async () => {
      if (!this.photo) return;
      this.say("Adjusting …");
      let words = "";
      try {
        words = said(await this.change(...ask()));
      } catch (error) {
        words = error.message;
      }
      await this.changed();
      if (words) this.say(words);
    });
    act("undo", () => [`${this.base}/undo`], ({ side }) => this.told(side, "Taken back", "There is nothing to take back."));
    act("redo", () => [`${this.base}/redo`], ({ side }) => this.told(side, "Done again", "There is nothing to do again."));
    act("clear", () => [`${this.base}/side/${this.side}/clear`, { photo: this.photo }], () => "");
    act("unusable", () => [`${this.base}/photo/${this.photo}/unusable`, { unusable: !this.data.unusable }], () => "");
    const port = this.port;
    port.addEventListener("wheel", (event) => {
      event.preventDefault();
      const box = port.getBoundingClientRect();
      this.zoom(Math.exp(-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
    this.panning(port);
    port.addEventListener("keydown", (event) => {
      if (event.target !== port || this.placing.key(event)) return;
      const by = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
      if (by) this.pan(...by);
      else if (event.key === "+" || event.key === "=") this.zoom(1.25);
      else if (event.key === "-") this.zoom(1 / 1.25);
      else return;
      event.preventDefault();
    });
    new ResizeObserver(() => (this.data && this.fitted ? this.fit() : this.place())).observe(port);
  }

  // Ctrl+Z takes back, Ctrl+Y or Ctrl+Shift+Z does it again; in a field they mean what is typed there.
  key(event) {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || byId("look").hidden) return;
    if (event.target.closest?.("input, textarea, select")) return;
    const letter = event.key.toLowerCase();
    const button = letter === "y" || (letter === "z" && event.shiftKey) ? "redo" : letter === "z" ? "undo" : "";
    if (!button) return;
    event.preventDefault();
    byId(button).click();
  }

  // One finger or the mouse pans, two fingers zoom.
  panning(port) {
    const fingers = new Map();
    let apart = 0, way = 0;
    port.addEventListener("pointerdown", (event) => {
      if (event.target.closest(".handle")) return;
      fingers.set(event.pointerId, event);
      way = fingers.size > 1 ? Infinity : 0;
      port.setPointerCapture(event.pointerId);
    });
    port.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      fingers.set(event.pointerId, event);
      way += Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY);
      if (fingers.size === 1) this.pan(event.clientX - before.clientX, event.clientY - before.clientY);
      else {
        const [a, b] = [...fingers.values()];
        const now = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
        const box = port.getBoundingClientRect();
        if (apart) this.zoom(now / apart, (a.clientX + b.clientX) / 2 - box.left, (a.clientY + b.clientY) / 2 - box.top);
        apart = now;
      }
    });
    for (const kind of ["pointerup", "pointercancel"]) {
      port.addEventListener(kind, (event) => {
        const down = fingers.delete(event.pointerId);
        apart = 0;
        const box = port.getBoundingClientRect();
        if (down && kind === "pointerup" && way < TAP_PX) this.placing.put([event.clientX - box.left, event.clientY - box.top]);
      });
    }
  }
}

// Marks of a constant size on the screen: `px` is one screen pixel in photo pixels.
function shape(kind, x, y, px, [ux, uy]) {
  const ring = (r) => `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
  const s = (n) => n * px;
  switch (kind) {
    case "corner": return ring(s(3));
    case "unused": return `M${x - s(4)} ${y - s(4)}l${s(8)} ${s(8)}m0 ${-s(8)}l${-s(8)} ${s(8)}`;
    case "end": return `M${x - uy * s(11)} ${y + ux * s(11)}L${x + uy * s(11)} ${y - ux * s(11)}`;
    case "seat": return `M${x - s(6)} ${y - s(6)}h${s(12)}v${s(12)}h${-s(12)}z`;
    case "crossing": return ring(s(7));
    default: return `M${x - s(9)} ${y}h${s(18)}M${x} ${y - s(9)}v${s(18)}`;
  }
}
