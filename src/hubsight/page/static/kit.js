// Rims and drawer: a form is sent as a whole; what is wrong is said at its field.

import { byId, post } from "./common.js";

function clear(form) {
  for (const place of form.querySelectorAll(".error")) place.textContent = "";
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

function say(form, error) {
  const field = error.field ? byId(`e-${error.field}`) : null;
  const place = field ? byId(`e-${error.field}-e`) : form.querySelector("[data-error]");
  place.textContent = error.message;
  if (!field) return;
  for (let box = field.closest("details"); box; box = box.parentElement.closest("details")) box.open = true;
  field.setAttribute("aria-invalid", "true");
  field.focus();
}

async function send(form, path, more = {}) {
  clear(form);
  try {
    const { to } = await post(path, { ...Object.fromEntries(new FormData(form)), ...more });
    location.assign(to);
    if (to.includes("#")) location.reload();
  } catch (error) {
    say(form, error);
  }
}

for (const form of document.querySelectorAll("form[data-post]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    send(form, event.submitter?.dataset.to ?? form.dataset.post);
  });
  form.querySelector("[data-text]")?.addEventListener("change", async (event) => {
    const [file] = event.target.files;
    if (file) await send(form, form.dataset.post, { [event.target.dataset.text]: await file.text() });
    event.target.value = "";
  });
}
