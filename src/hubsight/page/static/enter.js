import { byId, comeIn } from "./common.js";

try {
  if (await comeIn()) location.reload();
  else byId("say").textContent = "Open this page with the whole address that the terminal shows.";
} catch (error) {
  byId("say").textContent = error.message;
}
