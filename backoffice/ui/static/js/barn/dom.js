// @ts-check

/** @typedef {Node | string | number | null | undefined | false} Leaf */
/** @typedef {Leaf | Leaf[] | (Leaf | Leaf[])[]} Child */

/** What the page itself says: addresses, and the words that differ from land to land. */
export const shell = document.documentElement.dataset;

/** An element, as `tag.class.class`, with its attributes, if any, and children; `on…` are listeners, false and null are left out.
 * @param {string} tag @param {...(Child | Record<string, any>)} parts @returns {HTMLElement} */
export function h(tag, ...parts) {
  const [name, ...classes] = tag.split(".");
  const element = document.createElement(name);
  if (classes.length) element.className = classes.join(" ");
  const first = parts[0];
  const has = first && typeof first === "object" && !Array.isArray(first) && !(first instanceof Node);
  for (const [key, value] of Object.entries(has ? first : {})) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "value" || key === "checked") Object.assign(element, { [key]: value });
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(key, String(value));
  }
  for (const child of /** @type {Leaf[]} */ ((has ? parts.slice(1) : parts).flat(2))) if (child || child === 0) element.append(typeof child === "object" ? child : String(child));
  return element;
}

/** A picture drawn in the page's own sheet of symbols. @param {string} name @returns {SVGElement} */
export function icon(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("class", "icon");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", `#icon-${name}`);
  svg.append(use);
  return svg;
}

/** @param {string} label @param {() => unknown} deed @param {string} [kind] @param {Record<string, any>} [more] */
export const button = (label, deed, kind = "", more = {}) =>
  h("button", { type: "button", class: `button ${kind}`, onclick: deed, ...more }, label);

/** A large box to tick. @param {string} id @param {string} label @param {boolean} on @param {(on: boolean) => unknown} deed */
export const tick = (id, label, on, deed) =>
  h("label.tap", h("input", { type: "checkbox", id, checked: on, onchange: (/** @type {any} */ { target }) => deed(target.checked) }), h("span", label));

/** @param {string} id @param {string} label @param {HTMLElement} control @param {string} [help] */
export function field(id, label, control, help = "") {
  control.id = id;
  return h("p.field", h("label", { for: id }, label), control, help && h("span.soft", help));
}

/** @param {string} number */
export const tel = (number) => `tel:${number.replace(/[^\d+]/g, "")}`;

/** The value of the control that an event is about. @param {Event} event */
export const given = (event) => /** @type {HTMLInputElement} */ (event.target).value;

/** As the desk says it: “8:30”, of 24 hours. @param {number} at */
export const clockOf = (at) => `${new Date(at).getHours()}:${String(new Date(at).getMinutes()).padStart(2, "0")}`;

/** As the desk says it: “Thu 12 Mar”. @param {number | string} at */
export const dayOf = (at) => {
  const day = new Date(at);
  return `${day.toLocaleDateString("en", { weekday: "short" })} ${day.getDate()} ${day.toLocaleDateString("en", { month: "short" })}`;
};

/** @param {string} id */
export const valueOf = (id) => /** @type {HTMLInputElement} */ (document.getElementById(id)).value.trim();
