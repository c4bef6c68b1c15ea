/** What is asked of the service, and what it refuses. */

/** A refusal in words: what was wrong, one line for each fault. */
export class Refused extends Error {
  constructor(problem) {
    super(problem.detail || problem.title || "The service did not answer.");
    this.lines = (problem.errors ?? []).map((error) => error.detail);
    this.pointers = (problem.errors ?? []).map((error) => error.pointer);
    this.kind = (problem.type ?? "").split("/").pop();
  }
}

/** Nothing answered: the machine is not in reach, or the program on it has ended. */
export class Unreached extends Refused {
  constructor() {
    super({ detail: "The program that rules does not answer. Is this phone still on its network, and is the program still running?" });
  }
}

const kept = new Map();

/** What a path gives; asked for once. */
export async function get(path) {
  if (!kept.has(path)) kept.set(path, reached(fetch(path)).then(answered));
  try {
    return await kept.get(path);
  } catch (fault) {
    kept.delete(path);
    throw fault;
  }
}

/** What the service answers to a body. */
export async function post(path, body, signal) {
  return answered(await sent(path, body, signal));
}

function sent(path, body, signal) {
  const headers = { "Content-Type": "application/json" };
  return reached(fetch(path, { method: "POST", headers, body: JSON.stringify(body), signal }));
}

function reached(response) {
  return response.catch((fault) => {
    throw fault.name === "AbortError" ? fault : new Unreached();
  });
}

async function answered(response) {
  const data = await response.json().catch(() => ({ detail: `The service answered ${response.status}.` }));
  if (!response.ok) throw new Refused(data);
  return data;
}

/** The events of an answer as they come: `[name, data]`. Ends early, and the work with it, when `signal` is aborted. */
export async function* events(path, body, signal) {
  const response = await sent(path, body, signal);
  if (!response.ok) await answered(response);
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { value, done } = await reached(reader.read());
    if (done) return;
    text = (text + value).replaceAll("\r\n", "\n");
    for (let end = text.indexOf("\n\n"); end >= 0; end = text.indexOf("\n\n")) {
      const event = oneEvent(text.slice(0, end));
      text = text.slice(end + 2);
      if (event) yield event;
    }
  }
}

function oneEvent(block) {
  let name = "";
  const data = [];
  for (const line of block.split("\n")) {
    if (line.startsWith("event: ")) name = line.slice(7);
    if (line.startsWith("data: ")) data.push(line.slice(6));
  }
  return data.length ? [name, JSON.parse(data.join("\n"))] : null;
}
