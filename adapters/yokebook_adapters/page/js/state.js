/** What the page shows, kept in the address after `#`, so that it can be sent on, and Back goes back one answer.
 *
 * `ask` is a set of openings.json or the id of a question; a key with a dot, or one that begins with `o.`, is an answer.
 */

const LAW = ["place", "on", "edition"];

/** The state that an address stands for. */
export function read(hash = location.hash) {
  const state = { view: "start", ask: "", law: { choices: {} }, was: null, answers: [], edit: "", other: "", about: "" };
  for (const [key, value] of new URLSearchParams(hash.replace(/^#/, ""))) {
    if (key.startsWith("was-")) take((state.was ??= { choices: {} }), key.slice(4), value);
    else if (take(state.law, key, value)) continue;
    else if (key.includes(".")) state.answers.push({ key, value });
    else if (["view", "ask", "edit", "other", "about"].includes(key)) state[key] = value;
  }
  if (state.ask && state.view === "start") state.view = "device";
  return state;
}

/** Takes a part of the law that an address says; whether it is one. */
function take(law, key, value) {
  if (LAW.includes(key)) law[key] = value;
  else if (key.startsWith("choice.")) law.choices[key.slice(7)] = value;
  else return false;
  return true;
}

function sayLaw(said, law, before = "") {
  for (const key of LAW) if (law[key]) said.set(before + key, law[key]);
  for (const [id, taken] of Object.entries(law.choices ?? {})) said.set(`${before}choice.${id}`, taken);
}

/** The address of a state. */
export function address(state) {
  const said = new URLSearchParams();
  if (state.view === "building" || state.view === "questions") said.set("view", state.view);
  if (state.view === "device") said.set("ask", state.ask);
  sayLaw(said, state.law);
  if (state.was) sayLaw(said, state.was, "was-");
  if (state.view === "device") {
    for (const { key, value } of state.answers) said.append(key, value);
    for (const key of ["edit", "other"]) if (state[key]) said.set(key, state[key]);
  }
  if (state.view === "building" && state.about) said.set("about", state.about);
  const text = said.toString().replace(/%2F/g, "/").replace(/%3A/g, ":").replace(/%3F/g, "?");
  return text ? `#${text}` : "#";
}

/** Goes to a state: a step that Back undoes. */
export function go(state) {
  if (address(state) === (location.hash || "#")) showAgain();
  else location.hash = address(state);
}

/** Shows once more what the address says. */
export function showAgain() {
  dispatchEvent(new HashChangeEvent("hashchange"));
}

/** The state with one answer given, in the place of an earlier one on the same. Answers that no longer go with it are
 * left out, to be asked anew. */
export function withAnswer(state, key, value, openings) {
  const said = { key, value };
  const at = state.answers.findIndex((answer) => answer.key === key);
  const answers = at < 0 ? [...state.answers, said] : state.answers.slice(0, at);
  for (const answer of at < 0 ? [] : state.answers.slice(at)) {
    if (answer.key === key) answers.push(said);
    else if (stillGoes(answer, recordOf({ answers }, openings), openings)) answers.push(answer);
  }
  return { ...state, answers, edit: "" };
}

/** Whether an answer could still be given after what is known now. */
function stillGoes({ key, value }, known, openings) {
  if (value === UNKNOWN) return true;
  if (!key.startsWith("o.")) return !(key in known);
  const opening = openings[key.slice(2)];
  const choice = opening?.choices.find((each) => each.id === value);
  return !choice || (meets(opening.when, known) && isOffered(choice, known));
}

/** Whether each fact of a condition has one of its words. */
export function meets(when, record) {
  return Object.entries(when ?? {}).every(([fact, words]) => words.includes(record[fact]));
}

/** Whether a choice goes with what is known: it says of nothing something else, and needs no word that is not there. */
export function isOffered(choice, record) {
  const needs = Object.entries(choice.when ?? {}).filter(([fact]) => fact in record);
  return meets(Object.fromEntries(needs), record) && Object.entries(choice.facts).every(([fact, word]) => !(fact in record) || record[fact] === word);
}

/** Whether it is said where the job is. */
export function hasLaw(law) {
  return Boolean(law.place || law.edition);
}

/** The law as the service takes it. */
export function lawBody(law) {
  if (law.edition) return { edition: law.edition };
  const body = { place: law.place };
  if (law.on) body.on = law.on;
  if (Object.keys(law.choices ?? {}).length) body.choices = law.choices;
  return body;
}

// ---- answers as facts ----------------------------------------------------------------------------------------------

export const UNKNOWN = "?";

/** The facts that an answer gives. `FACT=yes~a:b,c:d` is a yes that gives other facts. */
export function factsOf({ key, value }, openings) {
  if (value === UNKNOWN) return {};
  if (key.startsWith("o.")) return openings[key.slice(2)]?.choices.find((choice) => choice.id === value)?.facts ?? {};
  const [, given] = value.split("~");
  if (given === undefined) return { [key]: typed(value) };
  const pairs = given.split(",").filter(Boolean).map((pair) => pair.split(":"));
  return Object.fromEntries(pairs.map(([name, word]) => [name, typed(word ?? "")]));
}

/** The flat record that all answers give. */
export function recordOf(state, openings) {
  return Object.assign({}, ...state.answers.map((answer) => factsOf(answer, openings)));
}

/** A yes or no that stands for a list or a link, as an answer. */
export function packed(word, gives) {
  const facts = Object.entries(gives ?? {}).map(([name, value]) => `${name}:${value === true ? "yes" : value === false ? "no" : value}`);
  return `${word}~${facts.join(",")}`;
}

function typed(text) {
  return /^-?\d{1,15}(\.\d{1,15})?$/.test(text) ? Number(text) : text;
}
