// The live preview on an encrypted page: how much of the sheet the phone's camera sees. Photos are taken as ever,
// by the phone's own camera, whose pictures are larger and say with which lens they were taken.

import { byId, post } from "./common.js";

const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 960; // of the pictures that are sent, px
const PAUSE_MS = 350;
let stream = null;

function mark([x, y], r) {
  const circle = document.createElementNS(SVG, "circle");
  for (const [name, value] of Object.entries({ cx: x, cy: y, r })) circle.setAttribute(name, value);
  return circle;
}

function draw({ width, height, marks, sentence }) {
  const svg = byId("live-marks");
  svg.setAttribute("viewBox", `0 0 ${width || 4} ${height || 3}`);
  svg.replaceChildren(...marks.map((place) => mark(place, (width || 1) / 150)));
  if (byId("live-say").textContent !== sentence) byId("live-say").textContent = sentence;
}

function picture(video) {
  const canvas = document.createElement("canvas");
  canvas.width = WIDTH;
  canvas.height = Math.round(WIDTH * video.videoHeight / video.videoWidth);
  canvas.getContext("2d").drawImage(video, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.75); });
}

async function look() {
  while (stream) {
    try {
      if (!document.hidden) draw(await post("/preview", await picture(byId("live-video")), { raw: true }));
    } catch (error) {
      byId("live-say").textContent = error.message;
    }
    await new Promise((done) => { setTimeout(done, PAUSE_MS); });
  }
}

function stop() {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  byId("live-view").hidden = true;
  byId("live-say").textContent = "";
  byId("live-start").textContent = "Live preview";
}

async function start() {
  if (stream) return stop();
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1280 } } });
  } catch {
    byId("live-say").textContent = "The camera was not allowed. Take the photo without the preview.";
    return undefined;
  }
  byId("live-video").srcObject = stream;
  await byId("live-video").play();
  byId("live-view").hidden = false;
  byId("live-start").textContent = "End the preview";
  return look();
}

export function offerPreview() {
  if (!window.isSecureContext || !navigator.mediaDevices) return;
  byId("live").hidden = false;
  byId("live-start").addEventListener("click", start);
  byId("take").addEventListener("click", () => { if (stream) stop(); }); // the camera's own program needs it
}
