// The bench card: ends of spokes are noted by tapping their scales, and kept in the job at once.

import { byId, post } from "./common.js";

const tools = document.querySelector("[data-job]");
const base = `/job/${tools.dataset.job}`;
const low = Number(tools.dataset.low), high = Number(tools.dataset.high);
const LEFT = 20.5, WIDTH = 40; // of the scale, in the drawing's own units

// Where on the scale a place on the screen is, mm; null left of it, where the number stands.
function endAt(svg, x) {
  const box = svg.getBoundingClientRect();
  const unit = (x - box.left) / box.width * svg.viewBox.baseVal.width;
  if (unit < LEFT - 2) return null;
  const mm = low + (unit - LEFT) / WIDTH * (high - low);
  return Math.round(Math.min(Math.max(mm, low), high) * 10) / 10;
}

function dress(cell) {
  const noted = cell.dataset.noted;
  cell.tabIndex = 0;
  cell.setAttribute("role", "slider");
  cell.setAttribute("aria-valuemin", low);
  cell.setAttribute("aria-valuemax", high);
  cell.setAttribute("aria-label", `End at rim hole ${cell.dataset.hole}`);
  cell.setAttribute("aria-valuenow", noted === "" ? 0 : noted);
  cell.setAttribute("aria-valuetext", noted === "" ? "not noted" : `${noted} mm`);
}

let waiting = Promise.resolve(); // one note after the other, in the order of the taps

function note(cell, end) {
  cell.dataset.noted = end ?? "";
  const ask = { side: cell.dataset.side, hole: Number(cell.dataset.hole), end };
  waiting = waiting.then(async () => {
    try {
      const kept = await post(`${base}/card`, ask);
      cell.innerHTML = kept.scale; // the server's own drawing, everything in it escaped
      byId(`said-${ask.side}`).textContent = kept.said;
      byId("card-error").textContent = "";
    } catch (error) {
      byId("card-error").textContent = error.message;
    }
    dress(cell);
    document.body.dataset.noted = String(Number(document.body.dataset.noted ?? 0) + 1);
  });
}

for (const cell of document.querySelectorAll("[data-hole]")) {
  dress(cell);
  cell.addEventListener("click", (event) => note(cell, endAt(cell.querySelector("svg"), event.clientX)));
  cell.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -0.1, ArrowDown: -0.1, ArrowRight: 0.1, ArrowUp: 0.1 }[event.key];
    if (step !== undefined) {
      const now = cell.dataset.noted === "" ? Number(cell.dataset.aim) : Number(cell.dataset.noted);
      note(cell, Math.round(Math.min(Math.max(now + step, low), high) * 10) / 10);
    } else if (event.key === "Delete" || event.key === "Backspace") note(cell, null);
    else return;
    event.preventDefault();
  });
}
byId("print").addEventListener("click", () => window.print());
