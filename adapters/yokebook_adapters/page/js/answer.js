/** The answer for one receptacle: outcome, reason, drawing, the row that decided, what would change it, who holds
 * otherwise, and the cautions. */
import { post } from "./api.js";
import { el, button, drawing, fill, opened, save } from "./dom.js";
import { lawForm } from "./law.js";
import { ruling as shown, cautions, would } from "./ruling.js";
import { factsOf, go, lawBody, recordOf, withAnswer } from "./state.js";
import { inWords, many, sentence } from "./words.js";

/** Where there is no law to rule by, saying so once is enough. */
const NO_LAW = new Set(["no adoption entered", "none in force"]);

const OTHERS = [["", "not described"], ["on", "always on"], ["too", "switched too"], ["none", "there is none"]];

/** Fills the section with the answer that was found. While more is `asked` it is kept short. */
export function answer(page, section, asked) {
  const { found } = page;
  const [lead, ...rest] = found.rulings;
  const change = el("div", { class: "would" });
  const picture = el("figure", { class: "face", hidden: true });
  fill(
    section,
    el("h2", { id: "answer-title", class: "unseen" }, "Answer"),
    shown(lead, { big: true, several: found.several === lead.question, after: [alone(page), picture, change] }),
    rest.filter((each) => (each.status !== "settled" || !each.idle) && !(NO_LAW.has(each.status) && each.status === lead.status)).map((each) => shown(each, { above: lead })),
    open(found),
    cautions(found.cautions),
    actions(page),
    ground(found),
  );
  if (asked) return;
  draw(page, picture).catch((fault) => fill(picture, el("p", { class: "small" }, `There is no drawing: ${fault.message}`)));
  fill(change, el("p", { class: "small" }, "Working out what would change it …"));
  explain(page, lead, change).catch((fault) => fill(change, el("p", { class: "small" }, `What would change it was not worked out: ${fault.message}`)));
}

/** What to bear in mind where a code is taken by itself: an authority may ask for more. */
function alone({ state }) {
  return state.law.edition ? el("p", { class: "small" }, "This is the code by itself. Where your state, city or inspector asks for more, that rule counts: name it, not this section.") : null;
}

/** What is still not known, with where to look. */
function open({ asks, rulings }) {
  if (!asks.length || rulings.every((made) => made.status === "settled")) return null;
  const lines = asks.map(({ ask }) => el("li", {}, ask.asks, ask.look ? el("span", { class: "small" }, ` Where to look: ${ask.look}`) : null));
  return el("section", { class: "part" }, el("h3", {}, `Not known yet (${many(lines.length, "thing")})`), el("ul", {}, lines));
}

async function explain(page, lead, place) {
  const { state, record } = page;
  if (lead.status !== "settled") return fill(place);
  const document = lead.document ? { document: lead.document.id } : {};
  const body = { law: lawBody(state.law), question: lead.question, record, ...document };
  const [explained] = (await post("/v1/records/explain", body)).rulings;
  fill(place, await base(page, lead), would(explained, await otherwise(page, lead, explained.sufficient)));
}

/** What the code says by itself where a place amended it, if that is something else. */
async function base({ state, record }, lead) {
  const { document, question, word } = lead;
  if (state.law.edition || !document?.amendments?.length) return null;
  const law = { edition: `${document.id}:${document.edition}` };
  const [made] = (await post("/v1/records/rule", { law, questions: [question], record })).rulings;
  if (made.word === word) return null;
  return el("p", {}, `Without ${inWords(document.amendments)}, by the ${document.edition} ${document.title} alone: `, el("b", {}, sentence(made.word)));
}

/** What could come of it had one thing been answered otherwise, of the answers that it rests on: what was asked, the
 * outcomes, and the choices that lead there. */
async function otherwise({ state, book }, lead, enough) {
  const rests = new Set(enough.map(({ fact }) => fact));
  const told = state.answers.filter((one) => one.key.startsWith("o.") && Object.keys(factsOf(one, book.openings)).some((fact) => rests.has(fact)));
  const ways = told.flatMap(({ key, value }) => book.openings[key.slice(2)].choices.filter(({ id }) => id !== value).map((choice) => ({ key, choice })));
  const ruled = await Promise.all(ways.map(async ({ key, choice }) => {
    const record = recordOf(withAnswer(state, key, choice.id, book.openings), book.openings);
    const { rulings } = await post("/v1/records/rule", { law: lawBody(state.law), questions: [lead.question], record }).catch(() => ({ rulings: [] }));
    return { key, choice, possible: rulings[0]?.possible ?? [] };
  }));
  const found = new Map();
  for (const { key, choice, possible } of ruled.filter(({ possible }) => possible.some((outcome) => outcome !== lead.outcome))) {
    const { short, choices } = book.openings[key.slice(2)];
    const line = `${key} ${possible}`;
    if (!found.has(line)) found.set(line, { asks: short, possible, others: possible.filter((outcome) => outcome !== lead.outcome), says: [], facts: choices.flatMap((each) => Object.keys(each.facts)) });
    found.get(line).says.push(choice.says);
  }
  return [...found.values()];
}

// ---- the drawing ---------------------------------------------------------------------------------------------------

/** The project that the answers make: one device with this half. The other one is there where it is said, and where it
 * is to be `drawn`. */
async function asProject({ state, record, set, book }, drawn = false) {
  const { project } = await post("/v1/projects/read", { record });
  project.project = { ...project.project, name: set.title };
  for (const space of project.spaces ?? []) {
    space.id = "room";
    for (const yoke of space.yokes ?? []) {
      yoke.id = "device";
      const [mine] = yoke.contacts ?? [];
      if (!mine) continue;
      mine.id = "this half";
      if (state.other === "none") mine.id = "the one";
      else if (state.other || drawn) yoke.contacts.push(otherHalf(mine, state.other));
      yoke.complete = { contacts: state.other !== "" };
    }
  }
  call(project, "controls", saidOfControl(state, book) || "the control");
  call(project, "loads", project.loads?.[0]?.kind ?? "a load");
  return project;
}

/** The control in the words of the answers, the last one first; empty where these name none. */
function saidOfControl({ answers }, { openings }) {
  const named = answers.filter((one) => one.key.startsWith("o.") && "control.turns_off_by" in factsOf(one, openings)).at(-1);
  const says = named ? openings[named.key.slice(2)].choices.find(({ id }) => id === named.value).says : "";
  return says && says[0].toLowerCase() + says.slice(1);
}

/** Calls a thing so that what is drawn and saved says what it is. */
function call(project, list, now) {
  const [thing] = project[list] ?? [];
  if (!thing) return;
  const was = thing.id;
  thing.id = now;
  for (const contact of project.spaces?.[0]?.yokes?.[0]?.contacts ?? []) {
    contact.controls = contact.controls?.map((id) => (id === was ? now : id));
    if (contact.load === was) contact.load = now;
  }
}

function otherHalf(mine, other) {
  const half = { id: "other half" };
  const position = { upper: "lower", lower: "upper", left: "right", right: "left" }[mine.position];
  if (position) Object.assign(half, { id: position, position });
  if (other === "on") Object.assign(half, { supply: "always on", controls: [] });
  if (other === "too") Object.assign(half, { supply: mine.supply, controls: [...(mine.controls ?? [])], complete: mine.complete });
  return half;
}

async function draw(page, figure) {
  const { state } = page;
  const project = await asProject(page, true);
  if (!project.spaces?.[0]?.yokes?.length) return;
  const { face } = await post("/v1/projects/face", { law: lawBody(state.law), project, subject: "room/device" });
  if (!face) return;
  const says = face.description.split("Slanting lines:")[0];
  const key = face.description.slice(says.length);
  const others = OTHERS.map(([other, words]) =>
    button(words, () => go({ ...state, other }), { class: "small", "aria-pressed": String(state.other === other) }));
  fill(
    figure,
    drawing(face),
    el("figcaption", {}, el("p", {}, says), el("p", { class: "small" }, key), el("div", { class: "others no-print", role: "group", "aria-label": "The other half" }, el("span", {}, "The other half: "), others)),
  );
  figure.hidden = false;
}

// ---- what to do with it --------------------------------------------------------------------------------------------

function actions(page) {
  const told = el("p", { class: "fault", role: "alert" });
  const change = el("div", { id: "change-here" });
  const kept = (name, what) => async () => {
    told.textContent = "";
    try {
      await what(name);
    } catch (fault) {
      told.textContent = fault.message;
    }
  };
  return el(
    "section",
    { class: "part actions no-print", "aria-label": "What to do with it" },
    button("Change place, day or edition", async () => {
      const { state } = page;
      const take = (law) => go({ ...state, law, was: state.law });
      opened(fill(change, await lawForm(state.law, take, { go: "See what moves", kinds: page.set.kinds })));
    }),
    change,
    button("Print this", () => print()),
    button("Save as a page (HTML)", kept("ruling.html", async (name) => save(name, (await printed(page)).html, "text/html"))),
    button("Save the sheet (JSON)", kept("ruling.json", async (name) => save(name, JSON.stringify((await filed(page)).sheet, null, 1), "application/json"))),
    told,
    button("Another receptacle, same place", () => go({ ...page.state, answers: [], was: null, other: "", edit: "" })),
  );
}

async function printed(page) {
  return post("/v1/projects/print", { ...(await asked(page)), full: true });
}

async function filed(page) {
  return post("/v1/projects/sheet", await asked(page));
}

/** What was asked here, and nothing else, of the project that the answers make. */
async function asked(page) {
  return { law: lawBody(page.state.law), questions: page.set.questions, project: await asProject(page) };
}

/** What it rests on: the law and the rulebook. */
function ground({ law, rulebook, given }) {
  const entries = law.in_force.flatMap((line) => line.entries.map((entry) => inForce(entry)));
  return el(
    "section",
    { class: "part ground" },
    el("h3", {}, "Ruled by"),
    el("ul", {}, entries.map((text) => el("li", {}, text))),
    el("div", { class: "print-only" }, el("h3", {}, "On these facts"), el("ul", {}, given.map((each) => el("li", {}, `${each.asks} ${each.shows}`)))),
    el("p", { class: "small" }, `Rulebook ${rulebook.digest.slice(0, 12)}.`),
  );
}

function inForce(entry) {
  if (entry.state !== "in force") return `${entry.state}: ${entry.reason}`;
  const amended = entry.amendments.length ? `, amended by ${entry.amendments.join(", ")}` : "";
  const others = entry.place && entry.amendments_entered !== "all entered" ? `; other amendments may exist, ask ${entry.office}` : "";
  return `${entry.title}, ${entry.edition}${amended}${others}`;
}
