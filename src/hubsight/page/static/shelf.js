// The first page: a new job, the search, and jobs side by side.

import { byId, post } from "./common.js";

if (location.hash) history.replaceState(null, "", location.pathname + location.search);

byId("new-job").addEventListener("submit", async (event) => {
  event.preventDefault();
  byId("new-error").textContent = "";
  byId("title").removeAttribute("aria-invalid");
  try {
    const made = await post("/jobs", { title: byId("title").value });
    location.assign(`/job/${made.job}`);
  } catch (error) {
    byId("new-error").textContent = error.message;
    byId("title").setAttribute("aria-invalid", "true");
    byId("title").focus();
  }
});

// No form is sent by the browser itself: the page's rules forbid it. Its address is opened instead.
for (const form of document.querySelectorAll("#search, #compare")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    location.assign(`${form.getAttribute("action")}?${new URLSearchParams(new FormData(form))}`);
  });
}

byId("compare")?.addEventListener("change", () => {
  const chosen = document.querySelectorAll("#compare :checked").length;
  if (byId("compare-them")) byId("compare-them").disabled = chosen < 2;
});
