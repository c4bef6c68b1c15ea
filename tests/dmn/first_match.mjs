// Reads tables as JSON from standard input and writes, for each record, the number of the first row that matches it;
// -1 where a value is none that its column can have. Every cell is a FEEL unary test, evaluated by feelin.
import { readFileSync } from "node:fs";

const { unaryTest } = await import(process.argv[2]);
const known = new Map();

function holds(test, value) {
  if (test === "-") return true;
  const key = JSON.stringify([test, value]);
  if (!known.has(key)) {
    const { value: result, warnings } = unaryTest(test, { "?": value });
    if (warnings.length) throw new Error(`${key}: ${JSON.stringify(warnings)}`);
    known.set(key, result === true);
  }
  return known.get(key);
}

const all = (tests, record) => tests.every((test, i) => holds(test, record[i]));
const tables = JSON.parse(readFileSync(0, "utf8"));
const answers = tables.map(({ values, rows, records }) =>
  records.map((record) => (all(values, record) ? rows.findIndex((row) => all(row, record)) : -1)));
process.stdout.write(JSON.stringify(answers));
