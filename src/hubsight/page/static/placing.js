// Placing by hand what was not found: one mark after the other, where somebody taps, or at the cross in the middle.

import { byId } from "./common.js";

const GAUGE = [
  "Tap the middle of the wire where the gauge comes out of the boss.",
  "Tap the middle of the wire near its far end.",
  "Tap the far end itself, in the middle of the wire. If it cannot be seen here, choose Done.",
];

export class Placing {
  constructor(viewer) {
    this.viewer = viewer;
    this.kind = "";
    this.marks = [];
    this.layer = byId("pending");
    const on = (id, act) => byId(id).addEventListener("click", act);
    byId("place-what").addEventListener("change", () => this.asked());
    on("place-start", () => this.start());
    on("place-here", () => this.put(this.middle()));
    on("place-back", () => this.back());
    on("place-done", () => this.done());
    on("place-cancel", () => {
      this.cancel();
      byId("place-start").focus();
    });
  }

  // What can be placed: as many gauges as are stated for these photos, and the bosses.
  offer(gauges, radial) {
    const what = byId("place-what"), of = `${gauges} ${radial}`;
    if (what.dataset.of === of) return;
    what.dataset.of = of;
    const names = gauges > 1 ? Array.from({ length: gauges }, (_, k) => `gauge ${k + 1}`) : ["the gauge"];
    const bosses = radial ? [] : [new Option("the bosses", "bosses")];
    what.replaceChildren(...names.map((name, k) => new Option(name, `gauge-${k}`)), ...bosses);
    this.asked();
  }

  asked() {
    byId("place-count-field").hidden = byId("place-what").value !== "bosses";
  }

  start() {
    const error = byId("place-error"), count = byId("place-count");
    error.textContent = "";
    count.removeAttribute("aria-invalid");
    if (!this.viewer.data?.target) {
      error.textContent = this.viewer.photo
        ? "No target is seen in this photo: nothing can be placed in it. Choose another one."
        : "There is no photo yet to place anything in.";
      return;
    }
    this.kind = byId("place-what").value;
    this.bosses = this.kind === "bosses" ? Number(count.value) : null;
    const least = Number(count.min), most = Number(count.max);
    if (this.bosses !== null && !(Number.isInteger(this.bosses) && this.bosses >= least && this.bosses <= most)) {
      this.kind = "";
      error.textContent = `Type how many bosses this flange has, ${least} to ${most}.`;
      count.setAttribute("aria-invalid", "true");
      count.focus();
      return;
    }
    this.marks = [];
    if (this.viewer.correcting) this.viewer.correct(false);
    byId("placing").hidden = false;
    this.viewer.port.classList.add("placing");
    this.viewer.port.focus({ preventScroll: true });
    byId("placing").scrollIntoView({ block: "start" });
    this.tell();
  }

  middle() {
    return [this.viewer.port.clientWidth / 2, this.viewer.port.clientHeight / 2];
  }

  // Takes the place (on the screen, within the viewport) for the next mark.
  put(where) {
    if (!this.kind || !this.viewer.data) return;
    this.marks.push({ at: this.viewer.toPhoto(where), scale: this.viewer.view.scale });
    if (this.kind !== "bosses" && this.marks.length === GAUGE.length) this.done();
    else this.tell();
  }

  back() {
    this.marks.pop();
    this.tell();
  }

  // Keys of the viewport while placing; true if one was taken.
  key(event) {
    if (!this.kind) return false;
    if (event.key === "Enter") this.put(this.middle());
    else if (event.key === "Backspace") this.back();
    else if (event.key === "Escape") this.cancel();
    else return false;
    event.preventDefault();
    return true;
  }

  tell() {
    const n = this.marks.length, boss = Math.floor(n / 2) + 1;
    byId("placing-say").textContent = this.kind === "bosses"
      ? `Boss ${boss}: tap ${n % 2 ? "its other face, straight across" : "one of its faces, beside the middle of the boss"}.${n && n % 2 === 0 ? " Choose Done when all that you can see well are placed." : ""}`
      : `${n + 1} of ${GAUGE.length}. ${GAUGE[n]}`;
    byId("place-back").disabled = !n;
    byId("place-done").disabled = this.kind === "bosses" ? !n || n % 2 === 1 : n < 2;
    this.viewer.place();
  }

  async done() {
    const sent = this.kind === "bosses" ? this.faces() : this.gauge();
    const bosses = this.bosses;
    this.cancel();
    const taken = await this.viewer.send(sent, bosses);
    if (taken) this.viewer.choose(bosses ? "bosses placed by hand" : "gauge");
  }

  gauge() {
    const gauge = Number(this.kind.split("-")[1]);
    const [first, second, end] = this.marks;
    const axis = { what: "axis", gauge, points: [first.at, second.at], scale: Math.min(first.scale, second.scale) };
    return end ? [axis, { what: "end", gauge, points: [end.at], scale: end.scale }] : [axis];
  }

  faces() {
    return this.marks.map(({ at, scale }, k) =>
      ({ what: "face", boss: Math.floor(k / 2), point: k % 2, points: [at], scale }));
  }

  cancel() {
    if (byId("placing").contains(document.activeElement)) this.viewer.port.focus({ preventScroll: true });
    this.kind = "";
    this.marks = [];
    byId("placing").hidden = true;
    this.viewer.port.classList.remove("placing");
    this.draw();
  }

  draw() {
    this.layer.replaceChildren(...this.marks.map(({ at }, k) => {
      const dot = document.createElement("span");
      [dot.style.left, dot.style.top] = this.viewer.toScreen(at).map((v) => `${v}px`);
      dot.textContent = String(k + 1);
      return dot;
    }));
  }
}
