// One click puts the sample job onto the shelf, measures it and opens it.

import { byId, post } from "./common.js";

byId("open-sample").addEventListener("click", async (event) => {
  event.target.disabled = true;
  try {
    const { job } = await post("/sample");
    location.href = `/job/${job}#look`;
  } catch (error) {
    byId("sample-error").textContent = error.message;
    event.target.disabled = false;
  }
});
