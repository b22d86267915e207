// The phone's page: send photos, and see within seconds what was seen in them and what to do better.

import { byId, comeIn, getJson, post } from "./common.js";

const known = new Map();

function text(kind, className, words) {
  const el = document.createElement(kind);
  el.className = className;
  el.textContent = words;
  return el;
}

function words(photo) {
  if (photo.state === "looking") return [text("p", "quiet", "Being looked at …")];
  if (photo.state === "trouble") return [text("p", "bad", `✕ ${photo.trouble}`)];
  const seen = text("p", "fine", `✓ ${photo.corners} target corners${photo.gauge ? ", gauge seen" : ""}`);
  return [seen, ...photo.better.map((b) => text("p", "mind", `! ${b}`))];
}

function item(photo, number) {
  const row = document.createElement("li");
  if (photo.state === "seen" || photo.state === "trouble") {
    const image = document.createElement("img");
    image.src = `/mine/${photo.id}`;
    image.alt = `Photo ${number}`;
    image.addEventListener("error", () => image.remove());
    row.append(image);
  }
  const about = document.createElement("div");
  about.append(text("h2", "", `Photo ${number}`), ...words(photo));
  row.append(about);
  return row;
}

async function follow() {
  const { photos, missing } = await getJson("/mine");
  const list = byId("mine");
  for (const [index, photo] of photos.entries()) {
    const state = JSON.stringify(photo);
    const shown = known.get(photo.id);
    if (shown?.state === state) continue;
    const row = item(photo, index + 1);
    if (shown) shown.row.replaceWith(row);
    else list.prepend(row);
    known.set(photo.id, { state, row });
  }
  byId("missing").replaceChildren(...missing.map((m) => text("p", "mind", `! ${m}.`)));
  return photos.some((p) => p.state === "looking");
}

async function send(files) {
  for (const [number, file] of files.entries()) {
    byId("say").textContent = `Sending ${number + 1} of ${files.length} …`;
    try {
      await post("/upload", file, { raw: true });
      byId("say").textContent = "Sent.";
    } catch (error) {
      byId("say").textContent = error.message;
    }
    await follow();
  }
}

for (const id of ["take", "pick"]) {
  byId(id).addEventListener("change", async (event) => {
    const files = [...event.target.files];
    await send(files);
    event.target.value = "";
  });
}

async function begin() {
  try {
    await comeIn();
    await follow();
  } catch (error) {
    byId("say").textContent = error.message;
    return;
  }
  byId("say").textContent = "You are in. Take the photos, or pick them.";
  byId("inside").hidden = false;
  setInterval(() => {
    if (!document.hidden) follow().catch((error) => { byId("say").textContent = `${error.message} The door may be closed.`; });
  }, 1000);
}
begin();
