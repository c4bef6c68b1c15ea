/** Small words that several parts of the page use. */

/** The text with a capital, and a full stop where it has none. */
export function sentence(text) {
  if (!text) return "";
  const begun = text[0].toUpperCase() + text.slice(1);
  return /[.!?…]$/.test(begun) ? begun : `${begun}.`;
}

export function capital(text) {
  return text ? text[0].toUpperCase() + text.slice(1) : "";
}

/** "a, b or c" */
export function inWords(words, last = "and") {
  const all = [...words];
  return all.length < 2 ? (all[0] ?? "") : `${all.slice(0, -1).join(", ")} ${last} ${all.at(-1)}`;
}

export function many(count, one, several = `${one}s`) {
  return `${count.toLocaleString("en-US")} ${count === 1 ? one : several}`;
}

/** The day that it is here, as year, month and day. */
export function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** A day as people write it. */
export function dayInWords(day) {
  const [year, month, date] = day.split("-").map(Number);
  return new Date(year, month - 1, date).toLocaleDateString("en-US", { year: "numeric", month: "short", day: "numeric" });
}
