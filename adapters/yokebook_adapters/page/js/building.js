/** A whole building: a project file or a schedule, ruled on as one watches; what is against first. */
import { Refused, Unreached, events, post } from "./api.js";
import { el, button, fill, goTo, opened, save, say } from "./dom.js";
import { lawForm, lawInWords } from "./law.js";
import { section as movedSection } from "./moves.js";
import { detail, findings } from "./findings.js";
import { cautions } from "./ruling.js";
import { address, go, hasLaw, lawBody, showAgain } from "./state.js";
import { dayInWords, many } from "./words.js";

/** Under which name the browser keeps what is open. */
const OPEN = "open";

/** What was opened and ruled on; the service keeps nothing of it. What was opened outlives a reload, not the tab. */
const held = { ...keptOpen(), runs: new Map(), stop: null, about: "" };

/** Shows what the state says of the building that is open, or asks for one. */
export async function showBuilding(state, main, moved) {
  held.stop?.abort();
  if (!held.project) return askFile(state, main, moved);
  const run = await ruledBy(state.law, main);
  if (!run) return;
  if (state.about) {
    held.about = state.about;
    return detail(state, main, held, run, moved);
  }
  const before = state.was ? await ruledBy(state.was, main) : null;
  if (state.was && !before) return;
  await report(state, main, run, before, moved);
}

// ---- the file ------------------------------------------------------------------------------------------------------

function keptOpen() {
  const nothing = { name: "", project: null, faults: [] };
  try {
    return JSON.parse(sessionStorage.getItem(OPEN)) ?? nothing;
  } catch {
    return nothing; // not allowed to keep anything
  }
}

/** Keeps what is open for as long as the tab is, where the browser lets it. */
function keepOpen({ name, project, faults }) {
  try {
    if (project) sessionStorage.setItem(OPEN, JSON.stringify({ name, project, faults }));
    else sessionStorage.removeItem(OPEN);
  } catch {
    // too big for it, or not allowed: a reload then asks for the file again
  }
}

function askFile(state, main, moved) {
  const told = el("div", { role: "alert" });
  const waiting = { schedule: null, mapping: null };
  const take = async (files) => {
    fill(told);
    try {
      const body = await sorted(files, waiting);
      if (!body) return fill(told, el("p", { class: "next" }, missing(waiting)));
      fill(told, el("p", {}, "Reading …"));
      const read = await post("/v1/projects/read", body);
      Object.assign(held, { name: body.file.name, project: read.project, faults: read.faults, runs: new Map(), about: "" });
      keepOpen(held);
      go({ ...state, view: "building", about: "" });
    } catch (fault) {
      fill(told, el("div", { class: "fault" }, el("p", {}, fault.message), el("ul", {}, (fault.lines ?? []).map((line) => el("li", {}, line)))));
    }
  };
  const input = el("input", { type: "file", id: "file", multiple: true, accept: ".yaml,.yml,.json,.csv,.xlsx,.xlsm", class: "unseen", on: { change: () => take([...input.files]).then(() => (input.value = "")) } });
  const place = el("label", { for: "file", class: "drop" }, el("b", {}, "Choose the file"), el("span", {}, "or drop it here"));
  dropped(place, take);
  fill(
    main,
    el("h1", {}, "A whole building"),
    el("section", { class: "open" }, el("h2", { id: "now" }, "Which file?"), el("p", { class: "look" }, "A project (YAML or JSON), or a device schedule (CSV, XLSX) together with the mapping file that says what its columns mean."), input, place, told, el("p", { class: "small" }, `The file is ruled on by the program on ${machine()}, which keeps nothing of it. This browser keeps it until you close the tab, so that a reload does not lose it.`)),
  );
  if (moved) goTo(main.querySelector("h1"));
}

/** Where the program runs, as this page knows it. */
export function machine() {
  return /^(localhost|127\.|\[::1\])/.test(location.hostname) ? "this machine" : location.hostname;
}

function dropped(place, take) {
  const over = (event) => {
    event.preventDefault();
    place.classList.toggle("over", event.type === "dragover");
  };
  for (const name of ["dragover", "dragleave"]) place.addEventListener(name, over);
  place.addEventListener("drop", (event) => {
    over(event);
    take([...event.dataTransfer.files]);
  });
}

const SCHEDULE = /\.(csv|xlsx|xlsm)$/i;

/** What no text has: a file with these is a picture, a PDF or the like, or text in another encoding. */
const NO_TEXT = /[\0-\x08\x0e-\x1f\x7f\ufffd]/;

/** What to send for the files chosen so far; null while a part is missing. */
async function sorted(files, waiting) {
  for (const file of files) {
    if (SCHEDULE.test(file.name)) waiting.schedule = await sent(file);
    else if (waiting.schedule || files.some((other) => SCHEDULE.test(other.name)) || /mapping/i.test(file.name)) waiting.mapping = await sent(file);
    else return { file: await sent(file) };
  }
  return waiting.schedule && waiting.mapping ? { file: waiting.schedule, mapping: waiting.mapping } : null;
}

/** A file as the service takes it: text, or the bytes of a workbook. */
async function sent(file) {
  if (!/\.xls[xm]$/i.test(file.name)) {
    const text = await file.text();
    if (NO_TEXT.test(text)) throw new Refused({ detail: `${file.name} is not read as text. A project is a YAML or JSON file; a schedule is CSV (saved as UTF-8) or XLSX.` });
    return { name: file.name, text };
  }
  const bytes = new Uint8Array(await file.arrayBuffer());
  const signs = Array.from(bytes, (byte) => String.fromCharCode(byte)).join("");
  return { name: file.name, base64: btoa(signs) };
}

function missing({ schedule }) {
  return schedule ? `${schedule.name} is here. Now choose the mapping file that says what its columns mean.` : "Now choose the schedule that this mapping is for.";
}

// ---- ruling, with progress -----------------------------------------------------------------------------------------

/** The rulings under a law; null where it was cancelled or refused, which the page then says. */
async function ruledBy(law, main) {
  const key = JSON.stringify(hasLaw(law) ? lawBody(law) : {});
  if (!held.runs.has(key)) {
    const run = await ruleAll(JSON.parse(key), main);
    if (!run) return null;
    held.runs.set(key, run);
  }
  return held.runs.get(key);
}

async function ruleAll(law, main) {
  const stop = (held.stop = new AbortController());
  const bar = el("progress", { max: 1, value: 0, "aria-label": "Rulings made" });
  const count = el("p", {}, "Looking at the building …");
  const cancel = button("Cancel", () => stop.abort(), { class: "go", id: "cancel" });
  fill(main, el("h1", {}, "Ruling …"), el("section", { class: "open working" }, el("p", {}, held.name), bar, count, cancel));
  cancel.focus();
  const run = { law, rulings: [], begin: null };
  try {
    for await (const [name, data] of events("/v1/projects/follow", { project: held.project, law }, stop.signal)) {
      if (name === "begin") run.begin = data;
      else if (name === "rulings") run.rulings.push(...data.rulings);
      else if (name === "problem") throw new Refused(data);
      else if (name === "end" && data.state === "done") return run;
      else if (name === "end") throw new Refused({ detail: `It was stopped: ${data.why}.` });
      if (run.begin) tell(run, bar, count);
    }
    throw new Refused({ detail: "The connection ended before the last ruling." });
  } catch (fault) {
    stopped(main, fault, run, law);
    return null;
  }
}

function tell(run, bar, count) {
  const total = run.begin.rulings;
  bar.max = Math.max(total, 1);
  bar.value = run.rulings.length;
  count.textContent = `${run.rulings.length.toLocaleString("en-US")} of ${many(total, "ruling")} on ${many(run.begin.devices, "device")}`;
  if (run.rulings.length % 200 < 20) say(count.textContent);
}

async function stopped(main, fault, run, law) {
  const cancelled = fault.name === "AbortError";
  const lost = fault instanceof Unreached;
  const heading = el("h1", {}, cancelled ? "Cancelled" : lost ? "No answer came" : "That cannot be ruled on");
  const told = cancelled ? `${many(run.rulings.length, "ruling")} had been made and are thrown away.` : fault.message;
  const lines = (fault.lines ?? []).map((line) => el("li", {}, line));
  const again = button("Rule on it again", showAgain, { class: "go" });
  const parts = [heading, el("section", { class: "open" }, el("p", {}, told), el("ul", {}, lines), cancelled || lost ? again : await lawForm(law.edition ? law : { choices: {}, ...law }, (said) => go({ view: "building", law: said, was: null, answers: [], about: "" })), button("Another file", another))];
  fill(main, parts);
  goTo(heading);
}

function another() {
  Object.assign(held, { name: "", project: null, faults: [], runs: new Map(), about: "" });
  keepOpen(held);
  showAgain();
}

// ---- the whole sheet -----------------------------------------------------------------------------------------------

async function report(state, main, run, before, moved) {
  const { begin, rulings } = run;
  const heading = el("h1", {}, begin.project || held.name);
  const words = hasLaw(state.law) ? await lawInWords(state.law) : await ownLaw(begin.law);
  const parts = [
    heading,
    el("p", { class: "small" }, [words, begin.stated_by ? `facts stated by ${begin.stated_by}` : "", `${many(begin.devices, "device")}, ${many(rulings.length, "ruling")}`].filter(Boolean).join(" · ")),
    button("Print, save, change the place …", () => goTo(document.getElementById("actions")), { class: "small no-print" }),
    refusedRows(),
  ];
  if (before) parts.push(await whatMoved(state, before, run));
  parts.push(findings(state, run), cautions(begin.cautions), actions(state, run), el("p", { class: "small" }, `Rulebook ${begin.rulebook.digest.slice(0, 12)}.`));
  fill(main, parts);
  say(`${many(rulings.length, "ruling")} made.`);
  const seen = held.about && document.querySelector(`.list a[href="${CSS.escape(address({ ...state, about: held.about }))}"]`);
  held.about = "";
  if (seen) {
    seen.focus({ preventScroll: true });
    seen.scrollIntoView({ block: "center" });
  } else if (moved || document.activeElement === document.body) goTo(main.querySelector("#moves") ?? heading);
}

/** The law that the file itself asks for. */
async function ownLaw(law) {
  const dates = Object.entries(law.dates).map(([event, day]) => `${event} ${dayInWords(day)}`);
  return [await lawInWords(law), ...dates].filter(Boolean).join(", ");
}

function refusedRows() {
  if (!held.faults.length) return null;
  return el("section", { class: "part" }, el("h2", {}, `${many(held.faults.length, "row")} refused`), el("ul", {}, held.faults.map((fault) => el("li", {}, fault))));
}

function whatMoved(state, before, run) {
  const key = (made) => `${made.question} ${made.subject.kind} ${made.subject.id} ${made.document?.kind ?? ""}`;
  const was = new Map(before.rulings.map((made) => [key(made), made.word]));
  const now = new Map(run.rulings.map((made) => [key(made), made]));
  const lines = run.rulings.map((made) => ({ asks: `${made.subject.label}: ${made.asks}`, was: was.get(key(made)) ?? "not asked", now: made.word }));
  const gone = before.rulings.filter((made) => !now.has(key(made))).map((made) => ({ asks: `${made.subject.label}: ${made.asks}`, was: made.word, now: "not asked" }));
  return movedSection(state, state.was, [...lines, ...gone]);
}

/** What a sheet lacks that could not be made whole in the time that the service allows. */
const NO_CHANGES = "What would change each finding is not in it: that took longer than the program allows itself.";

function actions(state, run) {
  const told = el("p", { role: "status" });
  const change = el("div", {});
  const body = () => ({ project: held.project, law: run.law });
  const base = held.name.replace(/\.[^.]*$/, "") || "building";
  const keep = (what) => async () => {
    const begun = Date.now();
    told.className = "";
    told.textContent = "Making it …";
    const clock = setInterval(() => (told.textContent = `Making it: ${Math.round((Date.now() - begun) / 1000)} seconds so far; a big building takes a minute or more.`), 5000);
    try {
      const note = await what();
      told.textContent = `It is made, and offered to keep. ${note ?? ""}`.trim();
    } catch (fault) {
      told.className = "fault";
      told.textContent = fault.message;
    } finally {
      clearInterval(clock);
    }
  };
  return el(
    "section",
    { class: "part actions no-print", id: "actions", "aria-label": "What to do with it" },
    button("Change place, day or edition", async () => {
      const take = (law) => go({ ...state, law, was: hasLaw(state.law) ? state.law : fromFile(run.begin.law) });
      opened(fill(change, await lawForm(hasLaw(state.law) ? state.law : fromFile(run.begin.law), take, { go: "See what moves" })));
    }),
    change,
    button("Print this", () => print()),
    button("Save the ruling sheet (HTML)", keep(async () => {
      const asked = { ...body(), full: true, name: held.name };
      const [made, note] = await post("/v1/projects/print", asked).then((whole) => [whole, ""], async (fault) => {
        if (fault.kind !== "too-long") throw fault;
        return [await post("/v1/projects/print", { ...asked, changes: false }), NO_CHANGES];
      });
      save(`${base}.html`, made.html, "text/html");
      return note;
    })),
    button("Save the sheet (JSON)", keep(async () => save(`${base}.json`, JSON.stringify((await post("/v1/projects/sheet", body())).sheet, null, 1), "application/json"))),
    told,
    button("Another file", another),
  );
}

/** What a file says of place and day, as the form takes it. */
function fromFile(law) {
  return { place: law.place ?? "", on: law.on ?? Object.values(law.dates)[0] ?? "", choices: law.choices };
}
