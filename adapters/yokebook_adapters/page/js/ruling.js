/** One ruling as people read it. */
import { get } from "./api.js";
import { el } from "./dom.js";
import { capital, inWords, sentence } from "./words.js";

const CHECKED = {
  memory: "From memory: nobody has held this against the text yet.",
  assumed: "Assumed from another edition: nobody has read this one.",
  derived: "Follows from what was read.",
  seen: "Read in the source named.",
};

/** So many answers that a ruling turns on are told beside its reason. */
const MOST_THROUGH = 3;

/** How many cautions stand at once; the rest are one press away, and always in print. */
const FIRST_CAUTIONS = 3;

/** A ruling: what was asked, the outcome, why, where it stands, and who holds otherwise. Who holds otherwise and what a
 * place amended is not told over again where it stands `above`, only what it gives here. Its reason may be one of
 * `several` that would come to the same. */
export function ruling(made, { big = false, several = false, after = [], above = null } = {}) {
  const edge = made.against ? "against" : made.status === "settled" ? "settled" : "unsettled";
  return el(
    "article",
    { class: `ruling ${edge}${big ? " big" : ""}` },
    el("p", { class: "asks" }, made.asks),
    el("p", { class: "outcome" }, el("b", {}, capital(made.word)), made.not_checked ? el("span", { class: "small" }, " not checked in this edition") : null),
    made.status === "settled" ? el("p", { class: "says" }, sentence(made.says)) : unsettled(made),
    reasons(made, several, above),
    big && !several && made.status === "settled" ? through(made) : null,
    held(made, above?.also_held ?? []),
    after,
    deciding(made, several),
  );
}

function unsettled(made) {
  if (made.status === "readings differ") return [el("p", {}, "The text can be read in more than one way."), readings(made)];
  if (made.status === "cannot tell") return [el("p", {}, `Still possible: ${inWords(made.possible, "or")}.`), readings(made)];
  const reason = made.document?.reason ?? "";
  return el("p", {}, reason ? sentence(reason) : sentence(made.status), made.document?.office ? ` Ask ${made.document.office}.` : "");
}

function rows(made) {
  return [...(made.standing ?? []), ...(made.none_fires ? [made.none_fires] : [])];
}

function reasons(made, several, above) {
  const found = rows(made).filter((row) => row.says);
  if (!found.length || made.status !== "settled") return null;
  const lead = several ? el("p", {}, "Whatever else turns out, it comes to this. One way to it:") : null;
  return el("div", { class: "why" }, lead, found.map((row) => el("p", {}, sentence(row.says), " ", cite(row.cite, made))), amended(made, above));
}

function cite(place, made) {
  if (!place) return null;
  const title = place.document === made.document?.id ? `${made.document.title}, ${made.document.edition}` : place.document;
  return el("span", { class: "cite" }, `${title}, ${place.section}`);
}

/** The answers to other questions that this one turns on. */
function through(made) {
  const lines = (made.through ?? []).filter(({ standing }) => standing.length).slice(0, MOST_THROUGH);
  return lines.map(({ question, standing: [row] }) => el("p", {}, named(`answer.${question}`), " ", el("b", {}, sentence(row.then)), " ", sentence(row.says)));
}

/** What a place's amendment made of the rule that decided; told once on a page. */
function amended(made, above) {
  const told = new Set(above ? steps(above).map(({ by }) => by) : []);
  return steps(made).map(({ by, says }) => el("p", { class: "amended" }, el("b", {}, `Local amendment ${by}`), told.has(by) ? ", as above." : `: ${sentence(says)}`));
}

function steps(made) {
  const local = new Set(made.document?.amendments ?? []);
  return rows(made).flatMap((row) => row.chain ?? []).filter((step) => local.has(step.by));
}

/** Who holds otherwise: never hidden. */
function held(made, told) {
  if (!made.also_held.length) return null;
  const known = new Set(told.map((each) => `${each.reading} ${each.alternative}`));
  if (made.also_held.every((each) => known.has(`${each.reading} ${each.alternative}`))) {
    const gives = inWords(new Set(made.also_held.flatMap((each) => each.outcomes)), "or");
    return el("p", { class: "held" }, el("b", {}, "Some hold otherwise: "), `${gives}, as above.`);
  }
  const lines = made.also_held.map((each) =>
    el("li", {}, el("b", {}, `${capital(inWords(each.outcomes, "or"))}: `), sentence(each.says), el("span", { class: "small" }, ` Held by: ${each.holders}.`)));
  return el("div", { class: "held" }, el("h3", {}, "Some hold otherwise"), el("ul", {}, lines), office(made));
}

function office(made) {
  return made.document?.office ? el("p", { class: "small" }, `To be sure, ask ${made.document.office}.`) : null;
}

/** Readings side by side, each with what it gives. */
function readings(made) {
  const open = made.readings_open ?? [];
  return open.map((reading) => {
    const gives = (id) => inWords(new Set(made.under.filter((each) => each.readings[reading.reading] === id).flatMap((each) => each.outcomes)), "or");
    const columns = reading.alternatives.filter((each) => each.standing === "published" || gives(each.id)).map((each) =>
      el("div", { class: "reading" }, gives(each.id) ? el("b", {}, capital(gives(each.id))) : null, el("p", {}, sentence(each.says)), el("p", { class: "small" }, `Held by: ${each.holders}.`)));
    return el("section", { class: "readings" }, el("h3", {}, reading.asks), el("div", { class: "side" }, columns), office(made));
  });
}

/** The row that decided, cell by cell. */
function deciding(made, several) {
  if (made.status !== "settled") return null;
  const told = el("p", {}, "Several rows come to this. Which of them decides turns on what is not said yet.");
  const cells = several ? [told] : (made.standing ?? []).map((row) =>
    el(
      "div",
      { class: "row" },
      el("p", { class: "small" }, `Row ${row.rule}`),
      el(
        "table",
        {},
        el("thead", {}, el("tr", {}, ["What it looks at", "Wanted", "Here"].map((text) => el("th", { scope: "col" }, text)))),
        el("tbody", {}, row.cells.map((cell) => el("tr", {}, el("th", { scope: "row" }, named(cell.input)), el("td", {}, cell.wanted), el("td", {}, cell.value)))),
      ),
    ));
  if (made.none_fires && !several) cells.push(el("p", {}, "No row of the table asks for anything else here: this is what it says then."));
  return el(
    "details",
    { class: "deciding" },
    el("summary", {}, "The row that decided, and how well it is checked"),
    cells,
    el("p", {}, el("b", {}, `${capital(made.checked.mark)}. `), CHECKED[made.checked.mark] ?? ""),
    el("ul", { class: "small" }, made.checked.because.map((each) => el("li", {}, `${each.what}: ${each.source}`))),
  );
}

/** What a row looks at, in the rulebook's words once these are there. */
function named(input) {
  const place = el("span", {}, input.replaceAll("_", " ").replace(".", " "));
  if (input.startsWith("reading.")) return place;
  const question = /^answer\.(?:electrical\.|energy\.|workplace\.)?(.+)$/.exec(input)?.[1];
  const words = question
    ? get(`/v1/questions/${question}`).then((found) => found.question.asks)
    : get(`/v1/facts/${input}`).then((found) => found.fact.says.replace(/\.$/, ""));
  words.then((text) => (place.textContent = text)).catch(() => {});
  return place;
}

/** The value of a fact in the rulebook's words once these are there. */
function valued(fact, value) {
  const place = el("b", {}, value);
  get(`/v1/facts/${fact}`).then((found) => (place.textContent = found.fact.values?.[value] ?? value)).catch(() => {});
  return place;
}

const FEW = 4;

/** What would change the outcome, by itself or two things together, and what is enough for it. `otherwise` is what could
 * come of another answer, in the words of the questions; facts that these ask for are not told over again. */
export function would(explained, otherwise = []) {
  const asked = new Set(otherwise.flatMap(({ facts }) => facts));
  const found = (explained.would_change ?? []).filter((change) => !asked.has(change.fact));
  const together = found.some((change) => change.together_with);
  const lines = found.map((change) => el("li", {}, el("b", {}, `${capital(change.outcome)}: `), changed(change)));
  const enough = (explained.sufficient ?? []).map((fact) => el("li", {}, named(fact.fact), ": ", valued(fact.fact, fact.value)));
  return [
    el("h3", {}, "What would change it"),
    found.length || otherwise.length ? null : el("p", {}, "None of these facts, changed alone or with one other, settles it otherwise."),
    otherwise.length ? el("ul", {}, otherwise.map(answered)) : null,
    together ? el("p", {}, "No single thing; two together:") : null,
    found.length ? el("ul", {}, lines) : null,
    enough.length ? [el("h3", {}, "What it rests on"), el("ul", {}, enough)] : null,
  ].filter(Boolean);
}

function answered({ asks, possible, others, says }) {
  return el("li", {}, el("b", {}, possible.length > 1 ? `Perhaps ${inWords(others, "or")}` : capital(possible[0])), ` if “${asks}” were ${inWords(says.map((each) => `“${each}”`), "or")}.`);
}

function changed(change) {
  const words = change.to.split(" or ");
  const values = words.slice(0, FEW).map((word, place) => [place ? " or " : "", valued(change.fact, word)]);
  const rest = words.length > FEW ? ` or ${words.length - FEW} others` : "";
  const parts = [named(change.fact), ": ", values, rest, " instead of ", valued(change.fact, change.from)];
  return change.together_with ? [parts, ", and ", changed(change.together_with)] : parts;
}

/** What every output ends with. */
export function cautions(all) {
  const item = (text) => el("li", {}, text.replace(/ \(--[^)]*\)/g, "")); // what one types at a command line
  const more = all.slice(FIRST_CAUTIONS);
  return el(
    "section",
    { class: "part cautions", "aria-labelledby": "cautions-title" },
    el("h3", { id: "cautions-title" }, "Before you rely on it"),
    el("ul", {}, all.slice(0, FIRST_CAUTIONS).map(item)),
    more.length ? el("details", {}, el("summary", {}, `${more.length} more cautions`), el("ul", {}, more.map(item))) : null,
  );
}
