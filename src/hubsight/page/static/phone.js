// The phone's page: from where the next photo is wanted, what was seen in each within seconds, retake, delete,
// and the hub turned over without another code.

import { byId, comeIn, getJson, post } from "./common.js";
import { offerPreview } from "./live.js";
import { drawPlan, drawSeen } from "./plan.js";

const known = new Map();
let side = byId("phone").dataset.side;
let replaces = ""; // the photo that the next one takes the place of
let busy = false;

function element(kind, className, words = "") {
  const el = document.createElement(kind);
  el.className = className;
  el.textContent = words;
  return el;
}

function button(words, act, className = "") {
  const el = element("button", className, words);
  el.type = "button";
  el.addEventListener("click", act);
  return el;
}

const SIGNS = { good: ["fine", "✓"], better: ["mind", "!"], trouble: ["bad", "✕"], looking: ["quiet", "◌"] };

// A photo's card: what was seen in it, one sentence, and what to do with it.
function card(photo, number) {
  const row = element("li", "card");
  row.append(element("h2", "", `Photo ${number}`));
  if (photo.state !== "looking" && photo.state !== "trouble") row.append(drawSeen(photo, `Photo ${number}: ${photo.sentence}`));
  const [className, sign] = SIGNS[photo.state];
  row.append(element("p", className, `${sign} ${photo.sentence}`));
  if (photo.state === "looking") return row;
  const tools = element("p", "row");
  const again = button("Retake", () => { replaces = photo.id; byId("take").click(); });
  again.setAttribute("aria-label", `Retake photo ${number}`);
  const away = button("Delete", () => remove(photo.id));
  away.setAttribute("aria-label", `Delete photo ${number}`);
  tools.append(again, away);
  row.append(tools);
  return row;
}

function showPhotos(photos) {
  const list = byId("mine"), there = new Set(photos.map((p) => p.id));
  for (const [id, { row }] of known) {
    if (there.has(id)) continue;
    row.remove();
    known.delete(id);
  }
  for (const [index, photo] of photos.entries()) {
    const state = JSON.stringify([photo, index]), shown = known.get(photo.id);
    if (shown?.state === state) continue;
    const row = card(photo, index + 1);
    if (shown) shown.row.replaceWith(row);
    else list.prepend(row);
    known.set(photo.id, { state, row });
  }
}

function showSides(sides) {
  const tabs = byId("sides"), state = JSON.stringify([sides, side]);
  if (tabs.dataset.state === state) return;
  tabs.dataset.state = state;
  const focused = tabs.contains(document.activeElement);
  tabs.replaceChildren(...sides.map((one) => {
    const tab = button(`${one.complete ? "✓ " : ""}${one.words} (${one.photos})`, () => turnTo(one.name));
    tab.setAttribute("aria-pressed", String(one.name === side));
    return tab;
  }));
  if (focused) tabs.querySelector('[aria-pressed="true"]').focus();
}

function coach(told) {
  const { wanted, missing, sides } = told;
  const other = sides.find((one) => one.name !== side);
  byId("now").textContent = wanted ? `${missing[0]}.` : other.complete
    ? "Both sides are complete. Go on at the computer." : "This side is complete. Turn the hub over.";
  byId("more").textContent = missing.slice(1).map((m) => `Then: ${m[0].toLowerCase()}${m.slice(1)}.`).join(" ");
  byId("take-words").textContent = wanted ? "Take this photo" : "Take one more";
  byId("take-words").classList.toggle("main", Boolean(wanted));
  const turn = byId("turn");
  turn.hidden = Boolean(wanted) || other.complete;
  turn.textContent = `The hub is turned over: ${other.words.toLowerCase()}`;
  turn.onclick = () => turnTo(other.name);
  drawPlan(byId("plan"), told);
}

async function turnTo(name) {
  side = name;
  known.clear();
  byId("mine").replaceChildren();
  await follow();
  byId("now").scrollIntoView({ block: "center" });
}

async function follow() {
  const asked = side, told = await getJson(`/mine?side=${asked}`);
  if (asked !== side) return true;
  byId("job").textContent = told.job;
  showSides(told.sides);
  coach(told);
  showPhotos(told.photos);
  return told.photos.some((p) => p.state === "looking");
}

async function remove(photo) {
  try {
    await post(`/mine/${photo}/remove`);
  } catch (error) {
    byId("say").textContent = error.message;
  }
  await follow();
}

async function send(files) {
  const old = replaces;
  replaces = "";
  for (const [number, file] of files.entries()) {
    byId("say").textContent = `Sending ${number + 1} of ${files.length} …`;
    try {
      await post(`/upload/${side}`, file, { raw: true });
      if (old && number === 0) await post(`/mine/${old}/remove`);
      byId("say").textContent = "Sent.";
    } catch (error) {
      byId("say").textContent = error.message;
    }
    await follow();
  }
}

for (const id of ["take", "pick"]) {
  byId(id).addEventListener("cancel", () => { replaces = ""; });
  byId(id).addEventListener("change", async (event) => {
    const files = [...event.target.files];
    await send(files);
    event.target.value = "";
  });
}

async function watch() {
  if (document.hidden || busy) return;
  busy = true;
  try {
    await follow();
  } catch (error) {
    byId("say").textContent = `${error.message} The door may be closed.`;
  } finally {
    busy = false;
  }
}

async function begin() {
  try {
    await comeIn();
    await follow();
  } catch (error) {
    byId("say").textContent = error.message;
    return;
  }
  byId("say").textContent = "You are in.";
  byId("inside").hidden = false;
  offerPreview();
  setInterval(watch, 600);
}
begin();
