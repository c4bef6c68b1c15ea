/** One receptacle: what was answered, the next thing to ask, what is still open, and the answer. */
import { answer } from "./answer.js";
import { Unreached, get, post } from "./api.js";
import { el, button, fill, goTo, say } from "./dom.js";
import { lawForm } from "./law.js";
import { moves } from "./moves.js";
import { UNKNOWN, factsOf, go, hasLaw, isOffered, lawBody, meets, packed, recordOf, showAgain, withAnswer } from "./state.js";
import { capital, inWords, many } from "./words.js";

/** More choices than these are shown behind a button. */
const SHORT_LIST = 9;

/** What is printed on a device stands beside its plain words; other words of the rulebook do not. */
const DESIGNATION = /[A-Z0-9]/;

let turn = 0;

/** Shows the interview that a state stands for. `moved` is whether a person brought it about. */
export async function showDevice(state, main, book, moved) {
  const mine = ++turn;
  const set = await setOf(state.ask, book);
  const page = { state, set, book, record: recordOf(state, book.openings) };
  if (!hasLaw(state.law)) return askLaw(page, main, moved);
  main.setAttribute("aria-busy", "true");
  try {
    // before the first answer there is nothing to rule on, unless nothing there answers what is asked
    const begins = !state.answers.length && set.openings.length && (await isAnswered(page));
    const found = begins ? null : await ruled(page);
    if (mine !== turn) return;
    page.found = found;
    await draw(page, main, moved, () => mine === turn);
  } catch (fault) {
    if (mine === turn) refused(page, main, fault, moved);
  } finally {
    if (mine === turn) main.removeAttribute("aria-busy");
  }
}

async function setOf(ask, book) {
  const found = book.sets.find((set) => set.id === ask);
  if (found) return found;
  const { question } = await get(`/v1/questions/${encodeURIComponent(ask)}`);
  const { openings = [], kinds } = book.sets.find((set) => set.questions.includes(question.id)) ?? {};
  return { id: ask, title: question.asks, questions: [question.id], openings, kinds };
}

/** Whether a document that is in force has a table for what is asked first. */
async function isAnswered({ state, set }) {
  const { choices, ...law } = lawBody(state.law);
  const said = new URLSearchParams(law);
  for (const [id, taken] of Object.entries(choices ?? {})) said.append("choice", `${id}=${taken}`);
  return get(`/v1/tables/${encodeURIComponent(set.questions[0])}?${said}`).then(() => true, (fault) => {
    if (fault instanceof Unreached) throw fault;
    return false;
  });
}

/** The rulings on what was answered, and what can still matter to the first that is not settled. As long as that is the
 * first of the set, the others wait for it, since they turn on the same. */
async function ruled({ state, set, record }) {
  const law = lawBody(state.law);
  const ask = (question) => post("/v1/records/ask", { law, question, record });
  const lead = await ask(set.questions[0]);
  const rulings = [lead.ruling];
  const rest = lead.ask.length ? [] : set.questions.slice(1);
  if (rest.length) rulings.push(...(await post("/v1/records/rule", { law, questions: rest, record })).rulings);
  const open = rulings.find((each) => each.ask.length);
  const asks = lead.ask.length || !open ? lead.ask : (await ask(open.question)).ask;
  const several = lead.reason_is === "one of several" ? set.questions[0] : "";
  if (set.each) rulings.sort((a, b) => rank(a) - rank(b));
  return { rulings, asks, several, given: lead.given, cautions: lead.cautions, law: lead.law, rulebook: lead.rulebook };
}

/** Where each question of a set counts by itself, what is against comes first, then what is open. */
function rank(made) {
  return made.against ? 0 : made.status !== "settled" ? 1 : made.idle ? 3 : 2;
}

// ---- the page ------------------------------------------------------------------------------------------------------

async function askLaw(page, main, moved) {
  const take = (law) => go({ ...page.state, law });
  const form = await lawForm(page.state.law, take, { kinds: page.set.kinds });
  const heading = el("h2", { id: "now" }, "First: where is the job, and when?");
  fill(main, title(page), el("section", { class: "open" }, heading, form));
  if (moved) goTo(heading);
}

function title({ set }) {
  return el("h1", {}, set.title);
}

async function draw(page, main, moved, current) {
  const isNew = lawIsNew(page.state);
  const next = nextAsk(page);
  const before = page.state.was ? await moves(page) : null;
  const parts = [title(page), before, given(page)].filter(Boolean);
  const open = next ? question(page, next) : null;
  const settled = page.found && told(page).some((made) => made.status !== "cannot tell");
  if (open) parts.push(open);
  if (page.found) parts.push(strip(page, Boolean(next)));
  const sheet = el("section", { class: "sheet", id: "answer", "aria-labelledby": "answer-title" });
  if (page.found && (settled || !next)) parts.push(sheet);
  if (!current()) return;
  fill(main, parts);
  if (page.found) say(standing(page));
  if (sheet.parentNode) answer(page, sheet, Boolean(next));
  if (moved) goTo(isNew ? before : open ? open.querySelector("h2") : sheet.parentNode ? sheet : main.querySelector("h1"));
}

/** The rulings that stand for the answer: each of the set, or the first, on which the others turn. */
function told({ set, found }) {
  return set.each ? found.rulings : found.rulings.slice(0, 1);
}

let lawBefore = "";

/** Whether another law is shown than the last time, beside the one before it. */
function lawIsNew({ law, was }) {
  const before = lawBefore;
  lawBefore = was ? JSON.stringify([law, was]) : "";
  return Boolean(was) && lawBefore !== before;
}

function refused(page, main, fault, moved) {
  const { state } = page;
  const heading = el("h2", { id: "now" }, "That cannot be ruled on");
  const lines = (fault.lines ?? []).map((line) => el("li", {}, line));
  const told = [heading, el("p", {}, fault.message), el("ul", {}, lines)];
  const back = button("Take the last answer back", () => history.back(), { class: "go" });
  if (fault instanceof Unreached) {
    heading.textContent = "No answer came";
    told.push(button("Try again", showAgain, { class: "go" }));
  } else if (fault.pointers?.some((pointer) => /^\/questions?$/.test(pointer))) {
    heading.textContent = "No code there answers this";
    fill(told[1], "None of the codes in force there says anything about this question.");
    fill(told[2]);
    told.push(button("Choose another place or code", () => go({ ...state, law: { choices: {} }, was: null }), { class: "go" }));
  } else told.push(back);
  fill(main, title(page), given(page), el("section", { class: "open refused" }, told));
  if (moved) goTo(heading);
}

/** What was answered, each a button to answer it anew. */
function given(page) {
  const { state, book } = page;
  const shown = state.answers.filter((one) => one.key !== state.edit);
  if (!shown.length) return null;
  const lines = shown.map((one) => {
    const [asks, says] = inFewWords(one, page, book);
    const change = () => go({ ...state, edit: one.key });
    const label = `${asks} ${says}. Change this answer.`;
    const parts = [el("span", { class: "asked" }, asks), el("span", { class: "said" }, says), el("span", { class: "change" }, "change")];
    return el("li", {}, el("button", { type: "button", class: "given", "aria-label": label, on: { click: change } }, parts));
  });
  return el("ol", { class: "strap", "aria-label": "Your answers" }, lines);
}

function inFewWords(one, { found }, book) {
  if (one.key.startsWith("o.")) {
    const opening = book.openings[one.key.slice(2)];
    const choice = opening?.choices.find((each) => each.id === one.value);
    return [opening?.short ?? one.key, choice?.says ?? "I do not know"];
  }
  const asked = seen.get(one.key);
  if (one.value === UNKNOWN) return [asked?.asks ?? one.key, "I do not know"];
  const [fact = one.key] = Object.keys(factsOf(one, {}));
  const said = found?.given.find((each) => each.fact === fact);
  if (one.value.includes("~")) return [asked?.asks ?? said?.asks ?? one.key, one.value.split("~")[0]];
  return [asked?.asks ?? said?.asks ?? one.key, said?.shows ?? asked?.values?.[one.value] ?? one.value];
}

/** What was asked since the page was opened, for the words of its answers. */
const seen = new Map();

// ---- what to ask next ----------------------------------------------------------------------------------------------

function nextAsk(page) {
  const { state, set, book, found } = page;
  if (state.edit.startsWith("o.")) return openingAsk(state.edit.slice(2), page);
  if (state.edit) return askOf(found?.asks.find((each) => each.ask.fact === state.edit)) ?? seen.get(state.edit) ?? null;
  const answered = new Set(state.answers.map((one) => one.key));
  const unknown = notKnown(state, book);
  for (const id of set.openings) {
    if (!answered.has(`o.${id}`) && isOpen(book.openings[id], page, unknown)) return openingAsk(id, page);
  }
  return askOf((found?.asks ?? []).find(({ ask }) => !answered.has(keyOf(ask)) && !unknown(ask.fact)));
}

/** Whether a fact belongs to what somebody was asked in trade words and does not know, so that it is not asked for once
 * more in others. */
function notKnown({ answers }, { openings }) {
  const passed = answers.filter((one) => one.value === UNKNOWN && one.key.startsWith("o."));
  const covers = passed.flatMap((one) => openings[one.key.slice(2)]?.covers ?? []);
  return (fact) => covers.some((begins) => fact.startsWith(begins));
}

/** Whether an opening can still matter: what it gives is asked for, belongs to the reason, or may show who holds
 * otherwise. */
function isOpen(opening, { found, record }, unknown) {
  if (!found) return true;
  const { when } = opening;
  if (when) return meets(when, record);
  const asked = new Set(found.asks.map((each) => each.ask.fact).filter((fact) => !unknown(fact)));
  const gives = opening.choices.flatMap((choice) => Object.keys(choice.facts));
  if (gives.some((fact) => asked.has(fact))) return true;
  return Boolean(opening.also) && found.rulings[0].also_held.length > 0 && !gives.some((fact) => fact in record);
}

function openingAsk(id, { state, book }) {
  const opening = book.openings[id];
  const before = state.edit ? state.answers.slice(0, state.answers.findIndex((one) => one.key === state.edit)) : state.answers;
  const known = recordOf({ answers: before }, book.openings);
  const choices = opening.choices.filter((choice) => isOffered(choice, known)).map((choice) => ({ word: choice.id, says: choice.says }));
  return { key: `o.${id}`, asks: opening.asks, look: "", choices, plain: true };
}

function keyOf(ask) {
  return ask.fact.replace(/^choices\./, "choice.");
}

function askOf(each) {
  if (!each) return null;
  const { ask, gives } = each;
  const made = { key: keyOf(ask), asks: ask.asks, look: ask.look, label: ask.label, type: ask.type, unit: ask.unit, values: ask.values };
  if (gives) made.choices = ["yes", "no"].map((word) => ({ word: packed(word, gives[word]), says: capital(word) }));
  else if (ask.values) made.choices = Object.entries(ask.values).map(([word, says]) => ({ word, says: says || word, name: word }));
  else if (ask.type === "yes_no") made.choices = ["yes", "no"].map((word) => ({ word, says: capital(word) }));
  seen.set(made.key, made);
  return made;
}

function question(page, ask) {
  const heading = el("h2", { id: "now" }, ask.asks);
  const parts = [heading];
  if (page.found && told(page).some((made) => made.status === "settled") && !page.state.edit) parts.push(el("p", { class: "look" }, stillAsked(page)));
  if (ask.look) parts.push(el("p", { class: "look" }, el("b", {}, "Where to look: "), ask.look));
  parts.push(ask.choices ? choices(page, ask) : figure(page, ask));
  return el("section", { class: "open", "aria-labelledby": "now" }, parts);
}

/** Why something is asked although the first answer stands. */
function stillAsked({ set, found }) {
  const open = found.rulings.find((made) => made.ask.length);
  if (set.each && open) return `This is for: ${open.asks}`;
  return found.asks.length ? "The answer stands already. This settles what goes with it." : "The answer stands already. This may show that those who hold otherwise do not mean yours.";
}

function choices(page, ask) {
  const { state } = page;
  const before = state.answers.find((one) => one.key === ask.key)?.value;
  const made = ask.choices.map((choice) => {
    const name = choice.name && DESIGNATION.test(choice.name) ? el("span", { class: "name-of" }, choice.name) : null;
    const pressed = before === undefined ? null : String(before === choice.word);
    return button([name, el("span", {}, capital(choice.says))], () => take(page, ask, choice.word), { class: "choice", "aria-pressed": pressed });
  });
  const unknown = button("I do not know", () => take(page, ask, UNKNOWN), { class: "choice unknown" });
  const list = el("div", { class: "choices" });
  if (made.length <= SHORT_LIST + 1 || ask.plain) return fill(list, made, unknown);
  const more = button(`${made.length - SHORT_LIST} more`, () => {
    fill(list, made, unknown);
    made[SHORT_LIST].focus();
  }, { class: "choice more" });
  return fill(list, made.slice(0, SHORT_LIST), more, unknown);
}

function figure(page, ask) {
  const number = ask.type === "number";
  const kind = ask.type === "date" ? "date" : "text";
  const input = el("input", { type: kind, id: "figure", inputmode: number ? "decimal" : null, autocomplete: "off", "aria-describedby": "figure-fault" });
  const fault = el("p", { class: "fault", id: "figure-fault", role: "alert" });
  const label = el("label", { for: "figure" }, number && ask.unit ? `How much, in ${ask.unit} or with another unit` : "Your answer");
  const form = el(
    "form",
    { class: "figure", novalidate: true },
    el("div", { class: "field" }, label, el("div", { class: "with-unit" }, input, ask.unit ? el("span", { class: "unit" }, ask.unit) : null), fault),
    el("button", { type: "submit", class: "go" }, "Go on"),
    button("I do not know", () => take(page, ask, UNKNOWN), { class: "choice unknown" }),
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const text = input.value.trim();
    if (!text) return tellFault(input, fault, "Write the number, or press “I do not know”.");
    const value = number && ask.unit && /^[-+.\d/ ]+$/.test(text) ? `${text} ${ask.unit}` : text;
    try {
      const record = { ...page.record, ...factsOf({ key: ask.key, value }, {}) };
      await post("/v1/records/rule", { law: lawBody(page.state.law), questions: page.set.questions.slice(0, 1), record });
      take(page, ask, value);
    } catch (refusal) {
      tellFault(input, fault, refusal.lines?.join(" ") || refusal.message);
    }
  });
  return form;
}

function tellFault(input, fault, text) {
  fault.textContent = text;
  input.setAttribute("aria-invalid", "true");
  input.focus();
}

function take(page, ask, value) {
  const { state } = page;
  const { openings } = page.book;
  if (!ask.key.startsWith("choice.")) return go(withAnswer(state, ask.key, value, openings));
  const taken = value === UNKNOWN ? {} : { [ask.key.slice(7)]: value };
  const answered = value === UNKNOWN ? withAnswer(state, ask.key, value, openings) : { ...state, edit: "" };
  return go({ ...answered, law: { ...state.law, choices: { ...state.law.choices, ...taken } } });
}

// ---- how it stands -------------------------------------------------------------------------------------------------

function standing({ found }) {
  const [lead] = found.rulings;
  if (lead.status !== "cannot tell") return `${capital(lead.word)}: settled.`;
  const open = found.asks.length;
  return `Still possible: ${inWords(lead.possible, "or")}. ${many(open, "thing")} can still matter.`;
}

/** What can still come out, always in view. */
function strip(page, asking) {
  const [lead] = page.found.rulings;
  const settled = lead.status !== "cannot tell";
  const words = settled
    ? [el("b", { class: "word" }, capital(lead.word)), el("span", {}, page.set.each ? lead.asks : settledWords(lead))]
    : [el("span", {}, "Still possible: ", el("b", {}, inWords(lead.possible, "or"))), el("span", {}, `${many(page.found.asks.length, "thing")} can still matter`)];
  const jump = asking && told(page).some((made) => made.status !== "cannot tell") ? button("See why", () => goTo(document.getElementById("answer")), { class: "small" }) : null;
  return el("div", { class: settled ? "strip settled" : "strip" }, el("p", {}, words), jump);
}

function settledWords(lead) {
  if (lead.status !== "settled") return "";
  return lead.also_held.length ? "Settled, but some hold otherwise." : "Settled: nothing else can change it.";
}
