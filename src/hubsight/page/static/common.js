// What all pages share: asking the server, and saying what went wrong.

export async function post(path, body, { raw = false } = {}) {
  const answer = await fetch(path, {
    method: "POST",
    credentials: "same-origin",
    headers: raw ? { "Content-Type": "application/octet-stream" } : { "Content-Type": "application/json" },
    body: raw ? body : JSON.stringify(body ?? {}),
  });
  let read = {};
  try { read = await answer.json(); } catch { /* no JSON: the status says it */ }
  if (!answer.ok) throw Object.assign(new Error(read.error ?? "This did not work. Try again."), { field: read.field });
  return read;
}

export async function getJson(path) {
  const answer = await fetch(path, { credentials: "same-origin" });
  if (!answer.ok) throw Object.assign(new Error((await answer.json().catch(() => ({}))).error ?? "This did not work."), { answered: true });
  return answer.json();
}

export const byId = (id) => document.getElementById(id);

// Takes the key out of the address, so that it stays in no history, and exchanges it for a cookie.
export async function comeIn() {
  const key = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
  if (key) await post("/enter", { key });
  return Boolean(key);
}
