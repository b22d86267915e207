// The wall of evidence: a close-up opens its photo there; a figure lights what it hangs on, everywhere.

import { byId } from "./common.js";

export function hang(viewer) {
  document.addEventListener("click", async (event) => {
    const tile = event.target.closest?.("[data-box]");
    if (!tile) return;
    await viewer.open(tile.dataset.open);
    const [x0, y0, x1, y1] = tile.dataset.box.split(" ").map(Number);
    viewer.window(x0, y0, x1, y1, 1.5);
    byId("viewer-box").scrollIntoView({ block: "nearest" });
    byId("viewport").focus({ preventScroll: true });
  });
  const light = (event) => {
    const figure = event.target.closest?.("[data-hangs]");
    if (figure) document.documentElement.dataset.lit = figure.dataset.hangs;
    else delete document.documentElement.dataset.lit;
  };
  for (const kind of ["pointerover", "focusin"]) document.addEventListener(kind, light);
  document.addEventListener("focusout", () => delete document.documentElement.dataset.lit);
}
