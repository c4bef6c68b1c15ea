/** The first screen: what people ask, at once. And the list of everything that can be asked. */
import { get } from "./api.js";
import { machine } from "./building.js";
import { el, fill, goTo } from "./dom.js";
import { address } from "./state.js";
import { capital } from "./words.js";

function choice(state, change, title, says) {
  return el("a", { class: "choice", href: address({ ...state, answers: [], was: null, edit: "", other: "", ...change }) }, el("span", { class: "title" }, title), says ? el("span", { class: "small" }, says) : null);
}

/** Shows what can be asked first. */
export function showStart(state, main, book, moved) {
  const ask = (id) => ({ view: "device", ask: id });
  fill(
    main,
    el("h1", {}, "What do you want to know?"),
    el("nav", { class: "choices", "aria-label": "What you can ask" }, book.sets.map((set) => choice(state, ask(set.id), set.title, set.says)), choice(state, { view: "questions" }, "Something else", "Everything else that can be asked.")),
    el("h2", {}, "Or a whole building"),
    el("div", { class: "choices" }, choice(state, { view: "building", about: "" }, "Open a project file or a device schedule", `It goes to the program on ${machine()} and nowhere else.`)),
  );
  if (moved) goTo(main.querySelector("h1"));
}

/** Shows every question. */
export async function showQuestions(state, main, moved) {
  const { questions } = await get("/v1/questions");
  const topics = [...new Set(questions.map((question) => question.topic ?? ""))].sort();
  const lists = topics.map((topic) => [
    el("h2", {}, topic ? capital(topic) : "Receptacles and what controls them"),
    el("div", { class: "choices" }, questions.filter((question) => (question.topic ?? "") === topic).map((question) => choice(state, { view: "device", ask: question.id }, question.asks, question.ruling))),
  ]);
  fill(main, el("h1", {}, "Everything that can be asked"), lists);
  if (moved) goTo(main.querySelector("h1"));
}
