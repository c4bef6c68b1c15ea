/** The rulings on a building as a list, worst first, and one of them with its whole reason. */
import { post } from "./api.js";
import { el, button, drawing, fill, goTo } from "./dom.js";
import { cautions, ruling as shown, would } from "./ruling.js";
import { go, address } from "./state.js";
import { capital, inWords, many, sentence } from "./words.js";

/** Where rulings are sorted, worst first, and what it is called; those that stand open in the list come first. */
const HEAPS = [
  ["against", "Against the code"],
  ["fault of the rulebook", "The rulebook contradicts itself"],
  ["impossible", "Cannot be as given"],
  ["readings differ", "Read in more than one way"],
  ["cannot tell", "Cannot be told yet"],
  ["not checked", "Nobody has checked this edition"],
  ["not entered", "The law is not entered"],
  ["also held", "Settled, but some hold otherwise"],
  ["settled", "Settled"],
  ["does not arise", "Does not arise here"],
];
const QUIET = new Set(["settled", "does not arise"]);

/** How many of one heap stand there before a press. */
const AT_ONCE = 60;

/** The counts, and the list by heap and room. */
export function findings(state, run) {
  const heaps = HEAPS.map(([heap, title]) => [heap, title, run.rulings.filter((made) => made.heap === heap)]).filter(([, , found]) => found.length);
  const counts = el(
    "table",
    { class: "counts" },
    el("caption", {}, "How it comes out"),
    el("tbody", {}, heaps.map(([heap, title, found]) => el("tr", { class: edge(heap) }, el("th", { scope: "row" }, el("button", { type: "button", class: "jump", on: { click: () => toHeap(heap) } }, title)), el("td", {}, found.length.toLocaleString("en-US"))))),
  );
  return el("div", {}, counts, heaps.map(([heap, title, found]) => heapSection(state, heap, title, found)));
}

function toHeap(heap) {
  const place = document.querySelector(`[data-heap="${heap}"]`);
  if (place.localName === "details") place.open = true;
  goTo(place.querySelector("h2, summary"));
}

function edge(heap) {
  return heap === "against" ? "against" : QUIET.has(heap) ? "" : "unsettled";
}

function heapSection(state, heap, title, found) {
  if (!QUIET.has(heap)) return el("section", { class: "heap", "data-heap": heap }, el("h2", {}, `${title} (${found.length.toLocaleString("en-US")})`), byRoom(state, found, heap));
  const inside = el("div", {});
  const details = el("details", { class: "heap", "data-heap": heap }, el("summary", {}, `${title} (${found.length.toLocaleString("en-US")})`), inside);
  details.addEventListener("toggle", () => details.open && !inside.childNodes.length && inside.append(byRoom(state, found, heap)));
  return details;
}

function byRoom(state, found, heap) {
  const list = el("div", {});
  const draw = (most) => {
    const rooms = grouped(found.slice(0, most));
    const more = found.length > most ? button(`${(found.length - most).toLocaleString("en-US")} more`, () => draw(found.length), { class: "choice more" }) : null;
    fill(list, [...rooms].map(([room, made]) => [el("h3", {}, capital(room) || "The building"), el("ul", { class: "list" }, made.map((one) => line(state, one, heap)))]), more);
  };
  draw(AT_ONCE);
  return list;
}

function grouped(found) {
  const rooms = new Map();
  for (const made of found) rooms.set(made.room, [...(rooms.get(made.room) ?? []), made]);
  return rooms;
}

function line(state, made, heap) {
  const label = made.subject.label.replace(new RegExp(`, ${escaped(made.room)}$`), "");
  const about = `${made.question}|${made.subject.id}|${made.document?.id ?? ""}`;
  const says = made.status === "settled" ? (made.rests_on[0]?.says ?? made.says) : made.status === "cannot tell" ? `Still possible: ${inWords(made.possible, "or")}. ${many(made.ask.length, "thing")} not given.` : "";
  return el(
    "li",
    { class: edge(heap) },
    el("a", { href: address({ ...state, about }) }, el("span", { class: "asked" }, `${label}. ${made.asks}`), el("b", { class: "word" }, capital(made.word)), says ? el("span", { class: "small" }, sentence(says)) : null),
  );
}

function escaped(text) {
  return text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");
}

/** One ruling with its whole reason, and the face of its device. */
export async function detail(state, main, held, run, moved) {
  const [question, subject, document_] = state.about.split("|");
  const heading = el("h1", {}, "One ruling");
  const place = el("div", {}, el("p", {}, "Looking it up …"));
  const back = button("Back to the list", () => go({ ...state, about: "" }), { class: "go no-print" });
  fill(main, heading, place, cautions(run.begin.cautions), back);
  if (moved) goTo(heading);
  const body = { project: held.project, law: run.law };
  try {
    const document = document_ ? { document: document_ } : {};
    const { rulings } = await post("/v1/projects/explain", { ...body, question, subject: named(run, subject, question), ...document });
    heading.textContent = rulings[0].subject.label;
    const figure = el("figure", { class: "face", hidden: true });
    fill(place, el("h2", { class: "unseen" }, "The ruling"), rulings.map((made) => shown(made, { big: true, after: [figure, el("div", { class: "would" }, would(made))] })), open(rulings[0]));
    await face(body, rulings[0], subject, figure);
  } catch (fault) {
    fill(place, el("p", { class: "fault" }, fault.message), el("ul", {}, (fault.lines ?? []).map((text) => el("li", {}, text))));
  }
}

function named(run, subject, question) {
  const kinds = new Set(run.rulings.filter((made) => made.subject.id === subject).map((made) => made.subject.kind));
  if (kinds.size < 2) return subject;
  const kind = run.rulings.find((made) => made.subject.id === subject && made.question === question)?.subject.kind;
  return `${kind === "yoke" ? "receptacle" : kind}:${subject}`;
}

function open(made) {
  if (made.status !== "cannot tell") return null;
  return el("section", { class: "part" }, el("h3", {}, "Not given yet"), el("ul", {}, made.ask.map((ask) => el("li", {}, ask.label ? `${capital(ask.label)}: ` : "", ask.asks, el("span", { class: "small" }, ` Where to look: ${ask.look}`)))));
}

async function face(body, made, subject, figure) {
  const yoke = { contact: subject.slice(0, subject.lastIndexOf("/")), yoke: subject }[made.subject.kind];
  if (!yoke) return;
  const { face: found } = await post("/v1/projects/face", { ...body, subject: yoke });
  if (!found) return;
  fill(figure, drawing(found), el("figcaption", {}, found.description));
  figure.hidden = false;
}
