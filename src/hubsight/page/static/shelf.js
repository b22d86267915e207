import { byId, post } from "./common.js";

if (location.hash) history.replaceState(null, "", location.pathname);

byId("new-job").addEventListener("submit", async (event) => {
  event.preventDefault();
  byId("new-error").textContent = "";
  for (const id of ["title", "length"]) byId(id).removeAttribute("aria-invalid");
  try {
    const made = await post("/jobs", { title: byId("title").value, length: byId("length").value });
    location.assign(`/job/${made.job}`);
  } catch (error) {
    byId("new-error").textContent = error.message;
    const wrong = byId(error.field === "length" ? "length" : "title");
    wrong.setAttribute("aria-invalid", "true");
    wrong.focus();
  }
});
