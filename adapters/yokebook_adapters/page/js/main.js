/** The page: shows what the address says, again whenever it changes. */
import { get } from "./api.js";
import { showBuilding } from "./building.js";
import { showDevice } from "./device.js";
import { el, button, fill, goTo, opened } from "./dom.js";
import { lawForm, lawLine } from "./law.js";
import { showQuestions, showStart } from "./start.js";
import { address, go, hasLaw, read, showAgain } from "./state.js";

const main = document.getElementById("main");
const skip = document.getElementById("skip");

async function show(moved) {
  const here = location.hash || "#";
  const state = read();
  const book = await get("openings.json");
  document.getElementById("home").href = address({ ...state, view: "start", ask: "", was: null });
  await showLaw(state, book);
  if (state.view === "device") await showDevice(state, main, book, moved);
  else if (state.view === "building") await showBuilding(state, main, moved);
  else if (state.view === "questions") await showQuestions(state, main, moved);
  else showStart(state, main, book, moved);
  main.dataset.shown = here;
  document.title = `${main.querySelector("h1")?.textContent ?? "yokebook"} · yokebook`;
}

async function showLaw(state, book) {
  const place = document.getElementById("law");
  const change = async () => {
    const take = (law) => go({ ...state, law, was: state.answers.length || state.view === "building" ? state.law : null });
    const kinds = book.sets.find((set) => set.id === state.ask)?.kinds;
    opened(fill(place, await lawForm(state.law, take, { go: state.answers.length ? "See what moves" : "Go on", kinds })));
  };
  fill(place, hasLaw(state.law) && state.view !== "building" ? await lawLine(state.law, change) : []);
}

function failed(fault) {
  const again = button("Try again", showAgain, { class: "go" });
  fill(main, el("h1", {}, "That did not work"), el("p", {}, fault.message), el("ul", {}, (fault.lines ?? []).map((line) => el("li", {}, line))), again);
}

addEventListener("hashchange", () => show(true).catch(failed));
skip.addEventListener("click", (event) => {
  event.preventDefault();
  goTo(main.querySelector("#now") ?? main);
});
show(false).catch(failed);
