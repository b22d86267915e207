// Placing by hand what was not found: one mark after the other, where somebody taps, or at the cross in the middle.

import { byId } from "./common.js";

const GAUGE = [
  "Tap the middle of the wire where the gauge comes out of the boss.",
  "Tap the middle of the wire near its far end.",
  "Tap the far end itself, in the middle of the wire. If it cannot be seen here, choose Done.",
];

const MOST_POINTS = 12; // of one turned edge

export class Placing {
  constructor(viewer) {
    this.viewer = viewer;
    this.kind = "";
    this.places = [];
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

  // What can be placed: as many gauges as are stated for these photos, the flange and the end face.
  offer(gauges, places) {
    this.places = places;
    const what = byId("place-what"), of = JSON.stringify([gauges, places]);
    if (what.dataset.of === of) return;
    what.dataset.of = of;
    const names = gauges > 1 ? Array.from({ length: gauges }, (_, k) => `gauge ${k + 1}`) : ["the gauge"];
    const wires = Array.from({ length: gauges }, (_, k) => new Option(names[k], `gauge-${k}`));
    const others = places.map((one) => new Option(one.name, one.id));
    what.replaceChildren(...wires, ...others);
    this.asked();
  }

  asked() {
    const counted = byId("place-what").value, count = byId("place-count");
    byId("place-count-field").hidden = !["bosses", "rim"].includes(counted);
    [count.min, count.max] = (counted === "rim" ? count.dataset.bores : count.dataset.bosses).split(" ");
    byId("place-count-of").textContent = counted === "rim" ? "Bores" : "Bosses";
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
    this.bosses = ["bosses", "rim"].includes(this.kind) ? Number(count.value) : null;
    const least = Number(count.min), most = Number(count.max);
    if (this.bosses !== null && !(Number.isInteger(this.bosses) && this.bosses >= least && this.bosses <= most)) {
      this.kind = "";
      const words = byId("place-count-of").textContent.toLowerCase();
      error.textContent = `Type how many ${words} this flange has, ${least} to ${most}.`;
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
    const n = this.marks.length;
    if (n === (this.edge ? MOST_POINTS : this.kind === "bosses" ? Infinity : GAUGE.length)) this.done();
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

  get edge() {
    return this.places.find((one) => one.id === this.kind && one.tap);
  }

  tell() {
    const n = this.marks.length;
    byId("placing-say").textContent = this.next(n);
    byId("place-back").disabled = !n;
    byId("place-done").disabled = this.edge ? n < this.edge.least : this.kind === "bosses" ? !n || n % 2 === 1 : n < 2;
    this.viewer.place();
  }

  // What to tap next.
  next(n) {
    if (this.edge) {
      const round = this.edge.least > 1 ? ", all round" : "";
      const enough = n >= this.edge.least ? " Choose Done when you have marked what you can see well." : "";
      return `Point ${n + 1}: tap ${this.edge.tap}${round}.${enough}`;
    }
    if (this.kind !== "bosses") return `${n + 1} of ${GAUGE.length}. ${GAUGE[n]}`;
    const where = n % 2 ? "its other face, straight across" : "one of its faces, beside the middle of the boss";
    const enough = n && n % 2 === 0 ? " Choose Done when all that you can see well are placed." : "";
    return `Boss ${Math.floor(n / 2) + 1}: tap ${where}.${enough}`;
  }

  async done() {
    const { edge, bosses } = this;
    const sent = edge ? this.points() : this.kind === "bosses" ? this.faces() : this.gauge();
    const group = edge?.group ?? (bosses ? "bosses placed by hand" : "gauge");
    this.cancel();
    if (await this.viewer.send(sent, bosses)) this.viewer.choose(group);
  }

  points() {
    const { what, number } = this.edge;
    return this.marks.map(({ at, scale }, point) => ({ what, boss: number, point, points: [at], scale }));
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
