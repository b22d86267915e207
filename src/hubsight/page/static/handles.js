// Handles over a photo: each can be dragged, or moved by the keyboard, and is sent when it is let go.

import { byId } from "./common.js";

const SETTLE_MS = 350;
const APART_PX = 32;

export class Handles {
  constructor(viewer) {
    this.viewer = viewer;
    this.layer = byId("handles");
    this.all = [];
    this.dragging = null;
    this.settle = null; // the keyboard's move that is not sent yet
  }

  // Whether somebody is moving a handle, which must not be torn from him.
  get held() {
    return Boolean(this.dragging || this.settle);
  }

  drop() {
    clearTimeout(this.settle);
    this.settle = this.dragging = null;
  }

  make(wanted) {
    const focused = this.layer.contains(document.activeElement) ? document.activeElement.dataset.key : null;
    this.all = wanted.map((h) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = `handle ${h.what}`;
      button.dataset.key = `${h.what}-${h.gauge}-${h.point}-${h.boss}`;
      const handle = { ...h, at: [...h.at], was: [...h.at], button };
      this.label(handle);
      this.wire(handle);
      return handle;
    });
    this.layer.replaceChildren(...this.all.map((h) => h.button));
    if (focused) this.layer.querySelector(`[data-key="${focused}"]`)?.focus({ preventScroll: true });
  }

  label(h) {
    const [x, y] = h.at.map((v) => v.toFixed(0));
    h.button.setAttribute("aria-label", `${h.label}: column ${x}, row ${y}. Arrow keys move it.`);
  }

  place() {
    const shown = [];
    for (const { at, button } of this.all) {
      const [left, top] = this.viewer.toScreen(at);
      button.style.left = `${left}px`;
      button.style.top = `${top}px`;
      // Handles that would lie over each other wait until somebody zooms in.
      const covered = shown.some((s) => Math.hypot(s[0] - left, s[1] - top) < APART_PX);
      button.hidden = covered && document.activeElement !== button;
      if (!button.hidden) shown.push([left, top]);
    }
  }

  wire(h) {
    const { button } = h, { viewer } = this;
    button.addEventListener("pointerdown", (event) => {
      event.stopPropagation();
      button.setPointerCapture(event.pointerId);
      this.dragging = { h, x: event.clientX, y: event.clientY, at: [...h.at] };
      button.focus({ preventScroll: true });
    });
    button.addEventListener("pointermove", (event) => {
      if (this.dragging?.h !== h) return;
      const { x, y, at } = this.dragging;
      const { scale } = viewer.view;
      this.moveTo(h, [at[0] + (event.clientX - x) / scale, at[1] + (event.clientY - y) / scale]);
    });
    button.addEventListener("pointerup", () => {
      if (this.dragging?.h !== h) return;
      this.dragging = null;
      if (h.at[0] !== h.was[0] || h.at[1] !== h.was[1]) this.commit(h);
      else if (viewer.waiting) viewer.show(viewer.waiting);
    });
    // After every pointerup too, when nothing is dragged any more.
    button.addEventListener("lostpointercapture", () => {
      if (this.dragging?.h !== h) return;
      this.dragging = null;
      this.moveTo(h, h.was);
      if (viewer.waiting) viewer.show(viewer.waiting);
    });
    button.addEventListener("keydown", (event) => {
      const step = event.shiftKey ? 10 : 1;
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
      if (by) {
        event.preventDefault();
        event.stopPropagation();
        this.moveTo(h, [h.at[0] + by[0], h.at[1] + by[1]]);
        clearTimeout(this.settle);
        this.settle = setTimeout(() => {
          this.settle = null;
          this.commit(h);
        }, SETTLE_MS);
      } else if (event.key === "Escape") {
        this.drop();
        this.moveTo(h, h.was);
        if (viewer.waiting) viewer.show(viewer.waiting);
      }
    });
  }

  moveTo(h, to) {
    h.at = this.viewer.inside(to);
    this.label(h);
    this.viewer.place();
  }

  async commit(h) {
    const same = (o) => o.what === "axis" && o.gauge === h.gauge;
    const points = (h.what === "axis" ? this.all.filter(same).sort((a, b) => a.point - b.point) : [h]).map((o) => o.at);
    const { what, gauge, point, boss } = h;
    if (!await this.viewer.send([{ what, gauge, point, boss, points, scale: this.viewer.view.scale }])) this.moveTo(h, h.was);
  }
}
