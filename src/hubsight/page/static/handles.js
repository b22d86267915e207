// Handles over a photo, shown while somebody corrects: each can be dragged, or moved by the keyboard, and is sent
// when it is let go. A loupe beside it shows what finger or pointer cover. A handle stays the same element as
// long as it is shown, and the viewport, which is never drawn anew, holds the pointer: an answer that comes
// meanwhile moves the others only.

import { byId } from "./common.js";
import { Loupe } from "./loupe.js";

const SETTLE_MS = 350;
const APART_PX = 32;
const STILL_PX = 3; // a hand that moves a handle by less has only chosen it
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const STEP_PX = 4, FINE_PX = 0.5; // of the screen, for an arrow key, and with Shift

const keyOf = (h) => `${h.what}-${h.gauge}-${h.point}-${h.boss}`;

export class Handles {
  constructor(viewer) {
    this.viewer = viewer;
    this.layer = byId("handles");
    this.loupe = new Loupe(viewer);
    this.all = [];
    this.dragging = null;
    this.nudged = null; // the handle that the keyboard moved, not sent yet
    this.settle = null;
    this.listen(viewer.port);
  }

  // Tells whether somebody moves a handle, or moved it and is not answered yet: then it stays where it is.
  held(h) {
    return this.dragging?.h === h || this.nudged === h || h.sent > 0;
  }

  drop() {
    clearTimeout(this.settle);
    this.settle = this.nudged = this.dragging = null;
    this.loupe.hide();
  }

  // Of another photo.
  clear() {
    this.drop();
    this.all = [];
    this.layer.replaceChildren();
  }

  // Shows these handles: what is shown already stays as it is, at its new place unless somebody holds it.
  make(wanted) {
    const known = new Map(this.all.map((h) => [keyOf(h), h]));
    const shown = wanted.map((w) => {
      const h = known.get(keyOf(w)) ?? this.fresh(w);
      h.label = w.label;
      h.was = [...w.at];
      if (!this.held(h)) h.at = [...w.at];
      return h;
    });
    const kept = this.all.filter((h) => this.dragging?.h === h && !shown.includes(h));
    this.all = [...shown, ...kept];
    const buttons = new Set(this.all.map((h) => h.button));
    for (const button of [...this.layer.children]) if (!buttons.has(button)) button.remove();
    for (const [k, { button }] of this.all.entries()) {
      if (this.layer.children[k] !== button) this.layer.insertBefore(button, this.layer.children[k] ?? null);
    }
    for (const h of this.all) this.name(h);
    if (!this.dragging && !this.layer.contains(document.activeElement)) this.loupe.hide();
  }

  fresh({ what, gauge, point, boss, at }) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = `handle ${what}`;
    const h = { what, gauge, point, boss, at: [...at], button, sent: 0 };
    button.dataset.key = keyOf(h);
    button.addEventListener("focus", () => { if (button.matches(":focus-visible")) this.loupe.show(h.at); });
    button.addEventListener("blur", () => this.loupe.hide());
    button.addEventListener("keydown", (event) => this.key(h, event));
    return h;
  }

  name(h) {
    const [x, y] = h.at.map((v) => v.toFixed(0));
    h.button.setAttribute("aria-label", `${h.label}: column ${x}, row ${y}. Arrow keys move it.`);
  }

  place() {
    const shown = [];
    for (const h of this.all) {
      const { at, button } = h;
      const [left, top] = this.viewer.toScreen(at);
      button.style.left = `${left}px`;
      button.style.top = `${top}px`;
      // Handles that would lie over each other wait until somebody zooms in.
      const covered = shown.some((s) => Math.hypot(s[0] - left, s[1] - top) < APART_PX);
      button.hidden = covered && document.activeElement !== button && !this.held(h);
      if (!button.hidden) shown.push([left, top]);
    }
  }

  listen(port) {
    // A second finger zooms: what the first one held goes back.
    addEventListener("pointerdown", (event) => {
      if (this.dragging && event.pointerId !== this.dragging.pointer) this.letGo();
    }, true);
    this.layer.addEventListener("pointerdown", (event) => {
      const h = this.all.find(({ button }) => button === event.target);
      if (!h || event.button) return; // other buttons of the mouse move nothing
      port.setPointerCapture(event.pointerId);
      this.dragging = { h, pointer: event.pointerId, from: this.within(event), at: [...h.at], moved: false };
      h.button.focus({ preventScroll: true });
      this.loupe.show(h.at);
      event.preventDefault(); // the viewport would take the focus
    });
    const own = (event) => this.dragging?.pointer === event.pointerId;
    port.addEventListener("pointermove", (event) => { if (own(event)) this.drag(event); });
    port.addEventListener("pointerup", (event) => { if (own(event)) this.release(); });
    // After every pointerup too, when nothing is dragged any more.
    port.addEventListener("lostpointercapture", (event) => { if (own(event)) this.letGo(); });
  }

  // Where the pointer is within the viewport, which may move under it.
  within({ clientX, clientY }) {
    const box = this.viewer.port.getBoundingClientRect();
    return [clientX - box.left, clientY - box.top];
  }

  drag(event) {
    const by = this.within(event).map((v, k) => v - this.dragging.from[k]);
    this.dragging.moved ||= Math.hypot(...by) >= STILL_PX;
    if (!this.dragging.moved) return;
    const { h, at } = this.dragging, { scale } = this.viewer.view;
    const [dx, dy] = this.locked(h, by.map((v) => v / scale));
    this.moveTo(h, [at[0] + dx, at[1] + dy]);
  }

  release() {
    const { h, moved } = this.dragging;
    this.dragging = null;
    this.loupe.hide();
    if (moved) this.commit(h);
    else this.viewer.chosen(false);
  }

  key(h, event) {
    const by = KEYS[event.key];
    if (by && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      event.stopPropagation();
      const step = (event.shiftKey ? FINE_PX : STEP_PX) / this.viewer.view.scale;
      const [dx, dy] = this.stepped(h, by).map((v) => v * step);
      clearTimeout(this.settle);
      if (this.nudged && this.nudged !== h) this.commit(this.nudged);
      this.nudged = h;
      this.moveTo(h, [h.at[0] + dx, h.at[1] + dy]);
      this.settle = setTimeout(() => {
        this.settle = this.nudged = null;
        this.commit(h);
      }, SETTLE_MS);
    } else if (event.key === "Escape") {
      this.drop();
      this.moveTo(h, h.was);
    }
  }

  // Puts back what is being dragged.
  letGo() {
    const { h } = this.dragging;
    this.drop();
    this.moveTo(h, h.was);
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
    this.name(h);
    this.viewer.place();
    this.loupe.follow(h.at);
  }

  async commit(h) {
    const same = (o) => o.what === "axis" && o.gauge === h.gauge;
    const points = (h.what === "axis" ? this.all.filter(same).sort((a, b) => a.point - b.point) : [h]).map((o) => o.at);
    const { what, gauge, point, boss } = h;
    h.sent += 1;
    const answered = () => { h.sent -= 1; };
    const mark = { what, gauge, point, boss, points, scale: this.viewer.view.scale };
    if (!await this.viewer.send([mark], null, answered) && !this.held(h)) this.moveTo(h, h.was);
  }
}
