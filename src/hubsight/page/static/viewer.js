// The viewer: one photo, what was seen drawn over it, and handles that can be dragged or moved by the keyboard.
// Places are in pixels of the upright picture; pixel centres are integers.

import { byId, getJson, post } from "./common.js";

const SVG = "http://www.w3.org/2000/svg";
const MOST_ZOOM = 8;
const SETTLE_MS = 350;
const APART_PX = 32;

export class Viewer {
  constructor(base, changed) {
    this.base = base;
    this.changed = changed;
    this.port = byId("viewport");
    this.image = byId("shown");
    this.marks = byId("marks");
    this.layer = byId("handles");
    this.photo = "";
    this.side = "";
    this.data = null;
    this.view = { x: 0, y: 0, scale: 1 };
    this.listen();
  }

  choose(photo) {
    this.photo = photo;
  }

  // Brings list and drawing up to date.
  async update() {
    const links = await this.photos();
    const pick = byId("pick");
    const wanted = links.map((l) => l.id).join();
    if (pick.dataset.ids !== wanted) {
      pick.dataset.ids = wanted;
      pick.replaceChildren(...links.map((l) => new Option(l.name, l.id)));
    }
    if (!links.some((l) => l.id === this.photo)) this.photo = links[0]?.id ?? "";
    pick.value = this.photo;
    this.side = links.find((l) => l.id === this.photo)?.side ?? "";
    if (this.photo) await this.load();
    else this.say("There are no photos yet.");
  }

  async photos() {
    const page = new DOMParser().parseFromString(
      await (await fetch(`${this.base}/part/photos`, { credentials: "same-origin" })).text(), "text/html");
    const words = { drive: "drive", non_drive: "non-drive" };
    return [...page.querySelectorAll("[data-show]")].map((a) => {
      const side = a.closest("[data-side]").dataset.side;
      return { id: a.dataset.show, side, name: `${words[side]}: ${a.closest("li").querySelector("h4").textContent}` };
    });
  }

  async load() {
    const asked = this.photo;
    let data;
    try {
      data = await getJson(`${this.base}/photo/${asked}/drawing`);
    } catch (error) {
      this.say(error.message);
      return;
    }
    if (asked !== this.photo || this.dragging) return;
    const other = this.image.dataset.photo !== asked;
    if (other) {
      this.image.dataset.photo = asked;
      this.image.src = `${this.base}/photo/${asked}/full.jpg`;
      this.image.alt = `Photo ${byId("pick").selectedOptions[0]?.text ?? ""}`;
    }
    // What is drawn already stays: a handle that somebody holds, and what was last said.
    if (!other && JSON.stringify(data) === this.drawn) return;
    this.show(data);
    if (other) this.fit();
  }

  show(data) {
    this.data = data;
    this.drawn = JSON.stringify(data);
    const unusable = byId("unusable");
    unusable.setAttribute("aria-pressed", String(data.unusable));
    unusable.textContent = data.unusable ? "Use this photo again" : "Mark photo as unusable";
    byId("clear").disabled = !data.placed;
    this.fillMove();
    this.draw();
    this.port.dataset.ready = this.photo;
    if (data.unusable) this.say("This photo is marked as unusable.");
    else if (!data.measured) this.say("Not measured, or left out: only what a first look saw is drawn.");
    else this.say(data.placed ? "Something was placed by hand in this photo." : "");
  }

  say(words) {
    byId("viewer-say").textContent = words;
  }

  fillMove() {
    const move = byId("move");
    const d = this.data.drawing;
    const wanted = `${d.bosses},${d.gauge_boss}`;
    if (move.dataset.of === wanted) return;
    move.dataset.of = wanted;
    const options = [new Option("gauge", "gauge")];
    for (let k = 0; k < d.bosses; k += 1) {
      options.push(new Option(k === d.gauge_boss ? `boss ${k + 1} (the gauge's)` : `boss ${k + 1}`, String(k)));
    }
    move.replaceChildren(...options);
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
    for (const p of d.outlines) line(p, "outline", true);
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
    this.makeHandles();
    this.place();
  }

  makeHandles() {
    const focused = this.layer.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    const which = byId("move").value || "gauge";
    const wanted = this.data.drawing.handles.filter((h) =>
      which === "gauge" ? h.boss === null : h.boss === Number(which));
    this.handles = wanted.map((h) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = `handle ${h.what}`;
      button.dataset.key = `${h.what}-${h.gauge}-${h.point}-${h.boss ?? ""}`;
      const handle = { ...h, at: [...h.at], was: [...h.at], button };
      this.label(handle);
      this.wire(handle);
      return handle;
    });
    this.layer.replaceChildren(...this.handles.map((h) => h.button));
    if (focused) this.layer.querySelector(`[data-key="${focused}"]`)?.focus({ preventScroll: true });
  }

  label(h) {
    const [x, y] = h.at.map((v) => v.toFixed(0));
    h.button.setAttribute("aria-label", `${h.label}: column ${x}, row ${y}. Arrow keys move it.`);
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
    const shown = [];
    for (const handle of this.handles ?? []) {
      const left = (handle.at[0] + 0.5 - x) * scale, top = (handle.at[1] + 0.5 - y) * scale;
      handle.button.style.left = `${left}px`;
      handle.button.style.top = `${top}px`;
      // Handles that would lie over each other wait until somebody zooms in.
      const covered = shown.some((s) => Math.hypot(s.left - left, s.top - top) < APART_PX);
      handle.button.hidden = covered && document.activeElement !== handle.button;
      if (!handle.button.hidden) shown.push({ left, top });
    }
  }

  along() {
    const g = this.data.drawing.gauges[0];
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

  zoomTo(points, room) {
    if (!points.length) return;
    const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
    this.window(Math.min(...xs) - room, Math.min(...ys) - room, Math.max(...xs) + room, Math.max(...ys) + room);
  }

  // ---- moving

  wire(h) {
    const { button } = h;
    button.addEventListener("pointerdown", (event) => {
      event.stopPropagation();
      button.setPointerCapture(event.pointerId);
      this.dragging = { x: event.clientX, y: event.clientY, at: [...h.at] };
      button.focus({ preventScroll: true });
    });
    button.addEventListener("pointermove", (event) => {
      if (!this.dragging) return;
      this.moveTo(h, [
        this.dragging.at[0] + (event.clientX - this.dragging.x) / this.view.scale,
        this.dragging.at[1] + (event.clientY - this.dragging.y) / this.view.scale,
      ]);
    });
    const done = () => {
      const moved = this.dragging && (h.at[0] !== h.was[0] || h.at[1] !== h.was[1]);
      this.dragging = null;
      if (moved) this.commit(h);
    };
    button.addEventListener("pointerup", done);
    button.addEventListener("pointercancel", () => {
      this.dragging = null;
      this.moveTo(h, h.was);
    });
    button.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 10 : 1;
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
      if (by) {
        event.preventDefault();
        event.stopPropagation();
        this.moveTo(h, [h.at[0] + by[0], h.at[1] + by[1]]);
        clearTimeout(this.settle);
        this.settle = setTimeout(() => this.commit(h), SETTLE_MS);
      } else if (event.key === "Escape") {
        clearTimeout(this.settle);
        this.moveTo(h, h.was);
      }
    });
  }

  moveTo(h, [x, y]) {
    const { width, height } = this.data.drawing;
    h.at = [Math.min(width - 1, Math.max(0, x)), Math.min(height - 1, Math.max(0, y))];
    this.label(h);
    this.place();
  }

  async commit(h) {
    const axis = h.what === "axis" ? this.handles.filter((o) => o.what === "axis" && o.gauge === h.gauge) : [h];
    const points = axis.sort((a, b) => a.point - b.point).map((o) => o.at);
    this.say("Adjusting …");
    const begun = performance.now();
    try {
      const data = await post(`${this.base}/side/${this.side}/place`, {
        photo: this.photo, what: h.what, gauge: h.gauge, point: h.point, boss: h.boss ?? 0, points,
        scale: this.view.scale,
      });
      this.show(data);
      this.port.dataset.took = String(Math.round(performance.now() - begun));
      await this.changed();
    } catch (error) {
      this.moveTo(h, h.was);
      this.say(error.message);
    }
  }

  // ---- listening

  listen() {
    const on = (id, kind, act) => byId(id).addEventListener(kind, act);
    on("pick", "change", async (event) => {
      this.photo = event.target.value;
      await this.update();
    });
    on("move", "change", () => {
      this.makeHandles();
      this.place();
      if (byId("move").value !== "gauge") this.zoomTo(this.data.drawing.outlines[Number(byId("move").value)] ?? [], 120);
    });
    on("zoom-in", "click", () => this.zoom(1.5));
    on("zoom-out", "click", () => this.zoom(1 / 1.5));
    on("zoom-fit", "click", () => this.data && this.fit());
    on("zoom-hub", "click", () => this.data && this.zoomTo(this.data.drawing.outlines.flat(), 60));
    on("zoom-end", "click", () => this.data && this.zoomTo(this.data.drawing.ends.slice(0, 1), 90));
    on("undo", "click", async () => {
      const { undone } = await post(`${this.base}/side/${this.side}/undo`);
      await this.changed();
      this.say(undone ? "Taken back." : "There is nothing to take back.");
    });
    on("clear", "click", async () => {
      await post(`${this.base}/side/${this.side}/clear`, { photo: this.photo });
      await this.changed();
    });
    on("unusable", "click", async () => {
      this.say("Adjusting …");
      await post(`${this.base}/photo/${this.photo}/unusable`, { unusable: !this.data.unusable });
      await this.changed();
    });
    const port = this.port;
    port.addEventListener("wheel", (event) => {
      event.preventDefault();
      const box = port.getBoundingClientRect();
      this.zoom(Math.exp(-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
    this.panning(port);
    port.addEventListener("keydown", (event) => {
      if (event.target !== port) return;
      const by = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] }[event.key];
      if (by) this.pan(...by);
      else if (event.key === "+" || event.key === "=") this.zoom(1.25);
      else if (event.key === "-") this.zoom(1 / 1.25);
      else return;
      event.preventDefault();
    });
    new ResizeObserver(() => (this.data && this.fitted ? this.fit() : this.place())).observe(port);
  }

  // One finger or the mouse pans, two fingers zoom.
  panning(port) {
    const fingers = new Map();
    let apart = 0;
    port.addEventListener("pointerdown", (event) => {
      if (event.target.closest(".handle")) return;
      fingers.set(event.pointerId, event);
      port.setPointerCapture(event.pointerId);
    });
    port.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      fingers.set(event.pointerId, event);
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
        fingers.delete(event.pointerId);
        apart = 0;
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
