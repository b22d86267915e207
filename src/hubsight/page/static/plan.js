// Drawings on the phone: the sheet from above with the places of the phone, and what was seen in a photo.

const SVG = "http://www.w3.org/2000/svg";
const HUB = [-50, 0]; // where the hub stands on the sheet, mm
const FAR_END = [38, 0];
const AROUND = 118; // how far from the hub the phone is drawn

function shape(kind, attributes, words = "") {
  const el = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) el.setAttribute(name, value);
  el.textContent = words;
  return el;
}

// Where the phone is, on the drawing: y points down there.
function spot(place) {
  if (place.above) return FAR_END;
  const turn = (place.around_deg * Math.PI) / 180;
  return [HUB[0] + AROUND * Math.cos(turn), HUB[1] - AROUND * Math.sin(turn)];
}

function phone(place, className, words) {
  const [x, y] = spot(place);
  const group = shape("g", { class: className, transform: `translate(${x} ${y})` });
  const turn = place.above ? 0 : 90 - place.around_deg;
  group.append(shape("rect", { x: -11, y: -17, width: 22, height: 34, rx: 4, transform: `rotate(${turn})` }), shape("text", { y: 6 }, words));
  return group;
}

export function drawPlan(svg, { taken, wanted, missing }) {
  const words = `The sheet from above. ${taken.length} place${taken.length === 1 ? "" : "s"} taken.${wanted ? ` Wanted: ${missing[0]}.` : ""}`;
  const state = JSON.stringify([taken, wanted]);
  if (svg.dataset.state === state) return;
  svg.dataset.state = state;
  svg.replaceChildren(
    shape("title", { id: "plan-words" }, words),
    shape("rect", { class: "paper", x: -148, y: -105, width: 296, height: 210 }),
    shape("rect", { class: "ring", x: -126, y: -84, width: 252, height: 168 }),
    shape("circle", { class: "hub", cx: HUB[0], cy: HUB[1], r: 22 }),
    shape("circle", { class: "hub", cx: HUB[0], cy: HUB[1], r: 7 }),
    shape("line", { class: "wire", x1: HUB[0] - 2, y1: -19, x2: FAR_END[0] + 4, y2: -4 }),
    ...taken.map((place, k) => phone(place, "place taken", String(k + 1))),
    ...(wanted ? [phone(wanted, "place wanted", "?")] : []),
  );
}

export function drawSeen(photo, words) {
  const { width, height, corners, gauges, ends } = photo.seen;
  const px = width / 360;
  const svg = shape("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words, class: "seen" });
  svg.append(shape("image", { href: `/mine/${photo.id}`, width, height }));
  for (const [x, y] of corners) svg.append(shape("circle", { class: "corner", cx: x, cy: y, r: 2.5 * px }));
  for (const line of gauges) svg.append(shape("polyline", { class: "gauge", points: line.map((p) => p.join()).join(" ") }));
  for (const [x, y] of ends) svg.append(shape("circle", { class: "end", cx: x, cy: y, r: 7 * px }));
  return svg;
}
