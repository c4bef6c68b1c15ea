/** What moves when place, day or edition changes: before and after, side by side. */
import { post } from "./api.js";
import { el, button, fill } from "./dom.js";
import { lawInWords } from "./law.js";
import { go, lawBody } from "./state.js";
import { capital, many } from "./words.js";

/** What moved for one receptacle between the law before and the law now. */
export async function moves({ state, set, record, found }) {
  const { was } = state;
  let before = [];
  let refused = "";
  try {
    before = (await post("/v1/records/rule", { law: lawBody(was), questions: set.questions, record })).rulings;
  } catch (fault) {
    refused = fault.lines?.join(" ") || fault.message;
  }
  const now = found?.rulings ?? [];
  const lines = now.map((after) => ({ asks: after.asks, was: before.find((each) => each.question === after.question)?.word ?? "not ruled on", now: after.word }));
  return section(state, was, lines, refused);
}

/** The table of what moved; `lines` have what was asked, the word before and the word now. */
export async function section(state, was, lines, refused = "") {
  const moved = lines.filter((line) => line.was !== line.now);
  const [wasWords, nowWords] = await Promise.all([lawInWords(was), lawInWords(state.law)]);
  const told = refused
    ? el("p", {}, `The law before could not be ruled by: ${refused}`)
    : el("p", { class: "moved" }, moved.length ? `${many(moved.length, "answer")} of ${lines.length} ${moved.length === 1 ? "moves" : "move"}.` : `Nothing moves: ${lines.length === 1 ? "the answer is" : "all answers are"} the same.`);
  return el(
    "section",
    { class: "part moves", id: "moves", "aria-labelledby": "moves-title" },
    el("h2", { id: "moves-title" }, "What moves"),
    told,
    moved.length ? table(moved, wasWords || "as the file says", nowWords || "as the file says") : null,
    el(
      "p",
      { class: "no-print" },
      button("Back to before", () => go({ ...state, law: was, was: null })),
      button("Keep this", () => go({ ...state, was: null })),
    ),
  );
}

/** So many lines stand there before a press. */
const AT_ONCE = 40;

function table(moved, wasWords, nowWords) {
  const head = ["Asked", `Before: ${wasWords}`, `After: ${nowWords}`];
  const body = el("tbody", {});
  const whole = el("div", {});
  const draw = (most) => {
    fill(body, moved.slice(0, most).map((line) => el("tr", {}, el("th", { scope: "row" }, line.asks), el("td", { "data-label": "Before" }, capital(line.was)), el("td", { "data-label": "After" }, el("b", {}, capital(line.now))))));
    const more = button(`${(moved.length - most).toLocaleString("en-US")} more`, () => draw(moved.length), { class: "choice more no-print" });
    fill(whole, el("table", { class: "stack" }, el("thead", {}, el("tr", {}, head.map((text) => el("th", { scope: "col" }, text)))), body), moved.length > most ? more : null);
  };
  draw(AT_ONCE);
  return whole;
}
