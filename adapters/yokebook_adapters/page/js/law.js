/** Where the job is and on which day: the law that is ruled by. */
import { get } from "./api.js";
import { el, button } from "./dom.js";
import { dayInWords, today } from "./words.js";

/** The law in few words, such as "Colorado, Nov 26, 2026". */
export async function lawInWords(law) {
  if (law.edition) return editionName(law.edition, (await get("/v1/documents")).documents);
  if (!law.place) return "";
  const place = (await get("/v1/places")).places.find((each) => each.id === law.place);
  return [place?.name ?? law.place, law.on ? dayInWords(law.on) : ""].filter(Boolean).join(", ");
}

function editionName(edition, documents) {
  const [id, year] = edition.split(":");
  const found = documents.find((document) => document.id === id);
  return found ? `${year} ${found.title}` : edition;
}

/** A form that asks where the job is and when; `take` gets the law said. `kinds` are the kinds of document that can
 * answer; left out, all. `own` is what a file itself says, if anything. */
export async function lawForm(law, take, { go = "Go on", own = "", kinds = null } = {}) {
  const [{ places }, { documents }] = await Promise.all([get("/v1/places"), get("/v1/documents")]);
  const chosen = law.edition ? `edition ${law.edition}` : law.place ? `place ${law.place}` : "";
  const where = el("select", { id: "where", name: "where", "aria-describedby": "where-fault" });
  where.append(option("", own || "Choose the place", chosen));
  where.append(group("Places", places.filter((place) => !place.demo).map(asPlace), chosen));
  const offered = [...new Set(documents.map((document) => document.kind))].filter((kind) => !kinds || kinds.includes(kind));
  for (const kind of offered.sort((a, b) => (b === "electrical") - (a === "electrical"))) {
    const editions = documents.filter((document) => document.kind === kind).flatMap(asEditions);
    where.append(group(`Not listed? One ${kind} code alone`, editions, chosen));
  }
  where.append(group("Invented, to try things out", places.filter((place) => place.demo).map(asPlace), chosen));
  const day = el("input", { type: "date", id: "day", name: "day", value: law.on || today(), min: "1990-01-01", max: "2099-12-31" });
  const dated = el("div", { class: "field" }, el("label", { for: "day" }, "The permit's day, or today"), day);
  const fault = el("p", { class: "fault", id: "where-fault", role: "alert" });
  const byItself = el("p", { class: "small" }, "The code as it was published, without what a state or city has changed in it.");
  const shown = () => {
    dated.hidden = where.value.startsWith("edition");
    byItself.hidden = !dated.hidden;
  };
  where.addEventListener("change", () => {
    fault.textContent = "";
    where.removeAttribute("aria-invalid");
    shown();
  });
  shown();
  const form = el(
    "form",
    { class: "law-form", novalidate: true },
    el("div", { class: "field" }, el("label", { for: "where" }, "Where is the job?"), where, fault, byItself),
    dated,
    el("button", { type: "submit", class: "go" }, go),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!where.value && !own) {
      fault.textContent = "Choose the place first. Where yours is not listed, choose the code that is in force there.";
      where.setAttribute("aria-invalid", "true");
      where.focus();
    } else if (!dated.hidden && !/^\d{4}-\d{2}-\d{2}$/.test(day.value)) {
      fault.textContent = "Give the day as month, day and year.";
      day.focus();
    } else take(lawOf(where.value, day.value));
  });
  return form;
}

function lawOf(chosen, day) {
  const [what, id] = [chosen.split(" ")[0], chosen.slice(chosen.indexOf(" ") + 1)];
  if (what === "edition") return { edition: id, choices: {} };
  return what === "place" ? { place: id, on: day, choices: {} } : { choices: {} };
}

function asPlace(place) {
  return [`place ${place.id}`, place.name];
}

function asEditions(document) {
  return [...document.editions].reverse().map((year) => [`edition ${document.id}:${year}`, `${year} ${document.title}`]);
}

function group(label, entries, chosen) {
  const sorted = label === "Places" ? [...entries].sort((a, b) => a[1].localeCompare(b[1], "en")) : entries;
  return el("optgroup", { label }, sorted.map(([value, text]) => option(value, text, chosen)));
}

function option(value, text, chosen) {
  return el("option", { value, selected: value === chosen }, text);
}

/** The line at the top of the page: where and when, and the way to change it. */
export async function lawLine(law, change) {
  const words = await lawInWords(law);
  if (!words) return [];
  return [el("span", { class: "law-words", title: words }, el("span", {}, words)), button("change", change, { class: "small", id: "change-law", "aria-label": "Change place, day or edition" })];
}
