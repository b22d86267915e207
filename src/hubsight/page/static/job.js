// The job's page: its steps, its fields, photos going up, and parts that follow what the server knows.

import { byId, getJson, post } from "./common.js";
import { Viewer } from "./viewer.js";
import { hang } from "./wall.js";

const job = document.querySelector("[data-job]").dataset.job;
const base = `/job/${job}`;
const steps = [...document.querySelectorAll(".step")];
const viewer = new Viewer(base, () => follow(true));
hang(viewer);
let version = 0;
let current = "";
let sending = ""; // said until it is done

function showStep() {
  const wanted = location.hash.slice(1);
  const first = document.querySelector(".steps a").hash.slice(1); // a wheel on another job's hub has fewer
  current = steps.some((s) => s.id === wanted) ? wanted : first;
  for (const step of steps) step.hidden = step.id !== current;
  for (const link of document.querySelectorAll(".steps a")) {
    const here = link.hash === `#${current}`;
    if (here) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
  }
  version = 0;
  return follow(true);
}

function partsShown() {
  return [...document.querySelectorAll(`#${current} [data-part], [data-part][data-always]`)];
}

// What each step lacks, by a sign and in words.
const SIGNS = { done: "✓", missing: "✕", doubtful: "!" };
function showStates(states) {
  for (const [number, link] of [...document.querySelectorAll(".steps a")].entries()) {
    const [state, words] = states[link.hash.slice(1)] ?? ["", ""];
    link.dataset.state = state;
    link.querySelector("b").textContent = SIGNS[state] ?? String(number + 1);
    link.querySelector("[data-state-words]").textContent = words;
  }
}

// The field beside which an error is said.
function fieldOf(error) {
  return error.endsWith("-e") ? byId(error.slice(0, -2)) : null;
}

// Replaces a part's content, keeps what is said to be wrong, and leaves somebody who is typing in it where he was.
function refresh(part, text) {
  if (text === undefined || part.dataset.shown === text) return;
  const focused = part.contains(document.activeElement) ? document.activeElement : null;
  const keep = focused?.id ? { id: focused.id, value: focused.value, typed: focused.dataset.typed } : null;
  const open = [...part.querySelectorAll("details[open]")].map((d) => d.dataset.keep);
  const first = part.dataset.shown === undefined;
  const errors = [...part.querySelectorAll(".error:not(:empty)")].map((e) => [e.id, e.textContent, fieldOf(e.id)?.value]);
  const fresh = document.createElement("template");
  fresh.innerHTML = text; // the server's own templates, everything in them escaped
  const pictures = new Map([...part.querySelectorAll("img")].map((i) => [i.getAttribute("src"), i]));
  for (const image of fresh.content.querySelectorAll("img")) {
    const loaded = pictures.get(image.getAttribute("src"));
    if (loaded) image.replaceWith(loaded);
  }
  part.replaceChildren(fresh.content);
  part.dataset.shown = text;
  for (const details of part.querySelectorAll("details")) details.open = first ? details.open : open.includes(details.dataset.keep);
  for (const [id, words, value] of errors) {
    const place = byId(id), field = fieldOf(id);
    if (place) place.textContent = words;
    if (!field) continue;
    field.value = value;
    field.setAttribute("aria-invalid", "true");
  }
  const again = keep && byId(keep.id);
  if (again) {
    if (keep.typed) again.value = keep.value;
    again.focus();
  }
}

// Changes the page; while somebody corrects, the photo stays where it is in the window, under the hand that drags.
function steadily(change) {
  if (!viewer.inHand) {
    change();
    return;
  }
  const port = byId("viewport"), before = port.getBoundingClientRect();
  change();
  const seen = before.height && before.bottom > 0 && before.top < innerHeight;
  const by = port.getBoundingClientRect().top - before.top;
  if (seen && by) scrollBy({ top: by, behavior: "instant" });
}

// Only one at a time asks the server, so that no old answer comes after a newer one; who asks meanwhile is
// answered by the next.
let running = null, next = null, forced = false;
function follow(now = false) {
  forced ||= now;
  if (running) {
    next ??= running.then(() => {
      next = null;
      return follow();
    });
    return next;
  }
  running = followOnce().finally(() => { running = null; });
  return running;
}

async function followOnce() {
  const now = forced;
  forced = false;
  const shown = partsShown(), step = current;
  let state, parts;
  try {
    const first = shown.filter((part) => !waits(part));
    ({ state, parts } = await getJson(`${base}/now?parts=${names(first)}&version=${now ? "" : version}`));
  } catch (error) {
    byId("doing").textContent = error.answered ? error.message : "The bench was closed. Start it again, and open the page from the terminal.";
    return;
  }
  const doing = sending || state.doing || (state.provisional ? "Figures are provisional: looking once more" : "");
  steadily(() => { byId("doing").textContent = doing; });
  document.body.dataset.busy = state.doing ? "yes" : "no";
  showStates(state.steps);
  viewer.history(state);
  byId("write-report").disabled = !state.measured || Boolean(state.doing);
  byId("measure").disabled = Boolean(state.doing);
  if (now || state.version !== version) {
    version = state.version;
    try {
      steadily(() => { for (const part of shown) refresh(part, parts[part.dataset.part]); });
      if (step !== current) forced = true; // somebody went on meanwhile
      if (current === "look") await viewer.update(state.photos);
    } catch {
      version = 0; // the connection broke off: once more
      return;
    }
    // A code of a door that has closed lets nobody in.
    if (current === "photos" && !document.querySelector('[data-do="phone-close"]')) byId("phone-code").hidden = true;
    document.body.dataset.version = String(version);
    showLater(shown.filter(waits));
  }
}

const names = (parts) => [...new Set(parts.map((part) => part.dataset.part))].join();

// What is drawn already, and takes long, follows after the figures.
const waits = (part) => "later" in part.dataset && part.dataset.shown !== undefined;
let asked = 0;
async function showLater(parts) {
  if (!parts.length) return;
  asked += 1;
  const own = asked;
  const answer = await getJson(`${base}/now?parts=${names(parts)}&version=`).catch(() => ({ parts: {} }));
  if (own === asked) steadily(() => { for (const part of parts) refresh(part, answer.parts[part.dataset.part]); });
}

function say(error, id) {
  const place = byId(id);
  if (place) place.textContent = error ? error.message : "";
}

// Fields are saved as soon as they are left.
document.addEventListener("input", (event) => {
  if (event.target.dataset?.field) event.target.dataset.typed = "yes";
});
document.addEventListener("focusout", (event) => {
  const { dataset } = event.target;
  if (dataset?.field && !dataset.saving) delete dataset.typed; // typed back to what it was
});
document.addEventListener("change", async (event) => {
  const field = event.target;
  if (field.matches?.("input.files")) {
    await send(field.dataset.side, [...field.files]);
    field.value = "";
    return;
  }
  if (!field.dataset?.field) return;
  const errors = `${field.id}-e`;
  const tick = field.type === "checkbox", sent = tick ? String(field.checked) : field.value;
  field.dataset.saving = "yes";
  try {
    const saved = await post(`${base}/fields`, { [field.dataset.field]: sent });
    field.removeAttribute("aria-invalid");
    if (!tick && field.value === sent) {
      field.value = saved.values[field.dataset.field];
      delete field.dataset.typed;
    }
    say(null, errors);
    await follow();
  } catch (error) {
    const shown = byId(field.id) ?? field; // its part may be drawn anew meanwhile, with what was saved before
    if (!tick && shown !== field && !shown.dataset.typed) shown.value = sent;
    shown.setAttribute("aria-invalid", "true");
    say(error, errors);
  } finally {
    delete field.dataset.saving;
  }
});

async function send(side, files) {
  const place = `upload-${side}`;
  say(null, place);
  for (const [number, file] of files.entries()) {
    sending = `Sending ${number + 1} of ${files.length}`;
    byId("doing").textContent = sending;
    try {
      await post(`${base}/side/${side}/photos`, file, { raw: true });
    } catch (error) {
      await follow(true);
      say(error, place);
    }
  }
  sending = "";
  await follow(true);
}

for (const kind of ["dragenter", "dragover"]) {
  document.addEventListener(kind, (event) => {
    event.preventDefault();
    event.target.closest?.(".drop")?.classList.add("over");
  });
}
document.addEventListener("dragleave", (event) => event.target.closest?.(".drop")?.classList.remove("over"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  const drop = event.target.closest?.(".drop");
  if (!drop) return;
  drop.classList.remove("over");
  send(drop.dataset.side, [...event.dataTransfer.files]);
});

const actions = {
  remove: (button) => post(`${base}/photo/${button.dataset.photo}/remove`),
  "phone-open": async () => {
    const opened = await post(`${base}/phone/open`, {
      side: byId("phone-side").value,
      address: byId("phone-address").value,
      secure: byId("phone-secure").checked,
    });
    byId("phone-fingerprint").textContent = opened.fingerprint;
    byId("phone-fingerprint-box").hidden = !opened.fingerprint;
    byId("phone-plain").hidden = Boolean(opened.fingerprint);
    const picture = new DOMParser().parseFromString(opened.svg, "image/svg+xml").documentElement;
    byId("qr").replaceChildren(document.importNode(picture, true));
    byId("phone-link").textContent = opened.link;
    byId("phone-code").hidden = false;
  },
  "phone-close": async () => {
    await post(`${base}/phone/close`);
    byId("phone-code").hidden = true;
  },
  measure: async () => {
    await post(`${base}/measure`);
    location.hash = "#look";
  },
  "write-report": async () => {
    location.hash = "#report";
    await writeReport();
  },
  "what-if": () => {
    byId("doing").textContent = "Comparing the wheels";
    return post(`${base}/what-if`);
  },
  "take-wheel": ({ dataset: { number } }) => post(`${base}/what-if/take`, { number: Number(number) }),
  another: async () => {
    say(null, "another-error");
    try {
      location.assign(`/job/${(await post(`${base}/another`, { title: byId("another").value })).job}#wheel`);
    } catch (error) {
      say(error, "another-error");
    }
  },
  "take-out": () => post(`${base}/drawer`),
  answer: ({ dataset: { side, photo, mark, index, believe } }) =>
    post(`${base}/side/${side}/answer`, { photo, mark, index: Number(index), believe: believe || null }),
};

// A link into the page goes to its step, and there to its field or to its place in the photo.
async function go(link) {
  const { focus, show, at } = link.dataset;
  if (show) viewer.turnTo(show, at);
  if (location.hash === link.hash) await follow(true);
  else {
    location.hash = link.hash;
    await new Promise((done) => { addEventListener("hashchange", done, { once: true }); });
    await showing;
  }
  const field = focus && byId(focus);
  if (!field && show) byId("viewer-box").scrollIntoView({ block: "nearest" });
  if (!field) return;
  for (let box = field.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  field.scrollIntoView({ block: "center" });
  field.focus({ preventScroll: true });
}

document.addEventListener("click", async (event) => {
  const link = event.target.closest?.('a[href^="#"]:is([data-show], [data-focus])');
  if (link) {
    event.preventDefault();
    link.closest("details.judged")?.removeAttribute("open");
    await go(link);
    return;
  }
  const button = event.target.closest?.("[data-do]");
  if (!button) return;
  button.disabled = true;
  try {
    await actions[button.dataset.do](button);
  } catch (error) {
    byId("doing").textContent = error.message;
  } finally {
    button.disabled = false;
    await follow(true);
  }
});

async function writeReport() {
  say(null, "report-error");
  byId("write-report").disabled = true;
  byId("doing").textContent = "Writing the report";
  try {
    await post(`${base}/report`);
  } catch (error) {
    say(error, "report-error");
  }
}

window.addEventListener("hashchange", () => {
  showing = showStep();
  byId("main").focus({ preventScroll: true });
  scrollTo(0, 0);
});
let showing = showStep();
setInterval(() => {
  if (!document.hidden) follow();
}, 1000);
