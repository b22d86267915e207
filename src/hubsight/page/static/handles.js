// Handles over a photo, shown while somebody corrects: each can be dragged, or moved by the keyboard, and is sent
// when it is let go. A loupe beside it shows what finger or pointer cover.

import { byId } from "./common.js";
import { Loupe } from "./loupe.js";

const SETTLE_MS = 350;
const APART_PX = 32;
const STILL_PX = 3; // a hand that moves a handle by less has only chosen it
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class Handles {
  constructor(viewer) {
    this.viewer = viewer;
    this.layer = byId("handles");
    this.loupe = new Loupe(viewer);
    this.all = [];
    this.dragging = null;
    this.settle = null; // the keyboard's move that is not sent yet
    // A second finger zooms: what the first one held goes back.
    addEventListener("pointerdown", (event) => {
      if (this.dragging && event.pointerId !== this.dragging.pointer) this.letGo();
    }, true);
  }

  // Whether somebody is moving a handle, which must not be torn from him.
  get held() {
    return Boolean(this.dragging || this.settle);
  }

  drop() {
    clearTimeout(this.settle);
    this.settle = this.dragging = null;
    this.loupe.hide();
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
    if (!this.layer.contains(document.activeElement)) this.loupe.hide();
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
    const { button } = h;
    button.addEventListener("pointerdown", (event) => {
      if (event.button) return; // other buttons of the mouse move nothing
      event.stopPropagation();
      button.setPointerCapture(event.pointerId);
      this.dragging = { h, pointer: event.pointerId, x: event.clientX, y: event.clientY, at: [...h.at], moved: false };
      button.focus({ preventScroll: true });
      this.loupe.show(h.at);
    });
    button.addEventListener("pointermove", (event) => {
      if (this.dragging?.h !== h) return;
      const by = [event.clientX - this.dragging.x, event.clientY - this.dragging.y];
      this.dragging.moved ||= Math.hypot(...by) >= STILL_PX;
      if (!this.dragging.moved) return;
      const { scale } = this.viewer.view;
      const [dx, dy] = this.locked(h, by.map((v) => v / scale));
      this.moveTo(h, [this.dragging.at[0] + dx, this.dragging.at[1] + dy]);
    });
    button.addEventListener("pointerup", () => {
      if (this.dragging?.h !== h) return;
      this.dragging = null;
      this.loupe.hide();
      if (h.at[0] !== h.was[0] || h.at[1] !== h.was[1]) this.commit(h);
      else this.caughtUp();
    });
    // After every pointerup too, when nothing is dragged any more.
    button.addEventListener("lostpointercapture", () => {
      if (this.dragging?.h === h) this.letGo();
    });
    button.addEventListener("focus", () => { if (button.matches(":focus-visible")) this.loupe.show(h.at); });
    button.addEventListener("blur", () => this.loupe.hide());
    button.addEventListener("keydown", (event) => this.key(h, event));
  }

  key(h, event) {
    const by = KEYS[event.key];
    if (by && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      event.stopPropagation();
      const step = event.shiftKey ? 10 : 1;
      const [dx, dy] = this.stepped(h, by).map((v) => v * step);
      this.moveTo(h, [h.at[0] + dx, h.at[1] + dy]);
      clearTimeout(this.settle);
      this.settle = setTimeout(() => {
        this.settle = null;
        this.commit(h);
      }, SETTLE_MS);
    } else if (event.key === "Escape") {
      this.drop();
      this.moveTo(h, h.was);
      this.caughtUp();
    }
  }

  // Puts back what is being dragged.
  letGo() {
    const { h } = this.dragging;
    this.drop();
    this.moveTo(h, h.was);
    this.caughtUp();
  }

  caughtUp() {
    if (this.viewer.waiting) this.viewer.show(this.viewer.waiting);
  }

  // The direction in which a handle may move, a unit vector; null for any.
  direction(h) {
    const [x, y] = this.viewer.along(["end", "axis"].includes(h.what) ? h.gauge : 0);
    return { along: [x, y], across: [-y, x], sideways: [1, 0], upright: [0, 1] }[byId("direction").value] ?? null;
  }

  locked(h, [dx, dy]) {
    const way = this.direction(h);
    if (!way) return [dx, dy];
    const far = dx * way[0] + dy * way[1];
    return [far * way[0], far * way[1]];
  }

  // One step of an arrow key: with a locked direction, right and down go on along it, left and up back.
  stepped(h, by) {
    const way = this.direction(h);
    if (!way) return by;
    const forward = Math.sign(by[0] + by[1]) * (way[0] + way[1] < 0 ? -1 : 1);
    return [forward * way[0], forward * way[1]];
  }

  moveTo(h, to) {
    h.at = this.viewer.inside(to);
    this.label(h);
    this.viewer.place();
    this.loupe.follow(h.at);
  }

  async commit(h) {
    const same = (o) => o.what === "axis" && o.gauge === h.gauge;
    const points = (h.what === "axis" ? this.all.filter(same).sort((a, b) => a.point - b.point) : [h]).map((o) => o.at);
    const { what, gauge, point, boss } = h;
    if (!await this.viewer.send([{ what, gauge, point, boss, points, scale: this.viewer.view.scale }])) this.moveTo(h, h.was);
  }
}
