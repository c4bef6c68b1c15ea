/** Elements made of data. Text only ever becomes text: nothing here reads markup, so nothing that a file, an address or
 * an answer holds can become part of the page. */

const PROPERTIES = new Set(["value", "checked", "disabled", "open", "hidden", "multiple", "max", "htmlFor", "download"]);

/** An element with its attributes and children; `on` holds listeners, null and false children are left out. */
export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") for (const [event, listener] of Object.entries(value)) made.addEventListener(event, listener);
    else if (name === "class") made.className = value;
    else if (PROPERTIES.has(name)) made[name] = value;
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** A button that does something here. */
export function button(text, listener, attributes = {}) {
  return el("button", { type: "button", on: { click: listener }, ...attributes }, text);
}

/** A drawing that the service made, as an element of this page. */
export function drawing(face) {
  const parsed = new DOMParser().parseFromString(face.svg, "image/svg+xml").documentElement;
  if (parsed.localName !== "svg") return el("p", {}, face.description);
  for (const node of [parsed, ...parsed.querySelectorAll("*")]) {
    if (!SHAPES.has(node.localName)) node.remove();
    for (const { name } of [...node.attributes]) if (/^on|href$|^style$/i.test(name)) node.removeAttribute(name);
  }
  return document.importNode(parsed, true);
}

const SHAPES = new Set(["svg", "title", "desc", "rect", "line", "circle", "polygon", "path", "text", "g"]);

/** Puts these in the place of all that an element holds. */
export function fill(element, ...children) {
  element.replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== false));
  return element;
}

/** Says something to those who do not see the page move. */
export function say(text) {
  const said = document.getElementById("said");
  if (said.textContent !== text) said.textContent = text;
}

/** Moves the focus to an element that takes none by itself, and into view. */
export function goTo(element) {
  if (!element) return;
  if (!element.hasAttribute("tabindex")) element.setAttribute("tabindex", "-1");
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: "start" });
}

/** Brings a form that was just opened into view, with the focus on its first field. */
export function opened(form) {
  form.querySelector("select, input").focus({ preventScroll: true });
  form.scrollIntoView({ block: "start" });
}

/** Offers text as a file to keep. */
export function save(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = el("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
