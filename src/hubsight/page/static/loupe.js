// The loupe: a piece of the photo, enlarged, beside the handle that is being moved, where no finger covers it.

import { byId } from "./common.js";

const SIZE_PX = 170;
const AWAY_PX = 70;
const LEAST_ZOOM = 3; // screen pixels for a pixel of the photo

export class Loupe {
  constructor(viewer) {
    this.viewer = viewer;
    this.canvas = byId("loupe");
    const dots = window.devicePixelRatio || 1;
    this.canvas.width = this.canvas.height = SIZE_PX * dots;
    this.dots = dots;
  }

  show(at) {
    this.canvas.hidden = false;
    this.follow(at);
  }

  hide() {
    this.canvas.hidden = true;
  }

  // Shows the photo round a place, beside it.
  follow(at) {
    if (this.canvas.hidden) return;
    const { port, image, view } = this.viewer;
    const zoom = Math.max(LEAST_ZOOM, Math.min(12, 3 * view.scale));
    const side = SIZE_PX / zoom, draw = this.canvas.getContext("2d");
    const whole = SIZE_PX * this.dots, middle = whole / 2, gap = 9 * this.dots;
    draw.fillStyle = "#1d232b";
    draw.fillRect(0, 0, whole, whole);
    draw.imageSmoothingEnabled = false;
    if (image.complete && image.naturalWidth) {
      draw.drawImage(image, at[0] + 0.5 - side / 2, at[1] + 0.5 - side / 2, side, side, 0, 0, whole, whole);
    }
    for (const [width, colour] of [[3, "#10151b"], [1.5, "#ffd830"]]) {
      draw.lineWidth = width * this.dots;
      draw.strokeStyle = colour;
      draw.beginPath();
      for (const [x, y] of [[-1, 0], [1, 0], [0, -1], [0, 1]]) {
        draw.moveTo(middle + x * gap, middle + y * gap);
        draw.lineTo(middle + x * middle, middle + y * middle);
      }
      draw.stroke();
    }
    const [left, top] = this.viewer.toScreen(at);
    const above = top - AWAY_PX - SIZE_PX;
    const beside = Math.min(Math.max(left - SIZE_PX / 2, 4), port.clientWidth - SIZE_PX - 4);
    const right = left + AWAY_PX + SIZE_PX < port.clientWidth;
    // Above, where a hand never is; else to the side.
    this.canvas.style.top = `${above > 4 ? above : Math.max(4, Math.min(top - SIZE_PX / 2, port.clientHeight - SIZE_PX - 4))}px`;
    this.canvas.style.left = `${above > 4 ? beside : right ? left + AWAY_PX : Math.max(4, left - AWAY_PX - SIZE_PX)}px`;
  }
}
