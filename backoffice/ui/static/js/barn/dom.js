// @ts-check

/** @typedef {Node | string | number | null | undefined | false} Leaf */
/** @typedef {Leaf | Leaf[] | (Leaf | Leaf[])[]} Child */

/** An element with attributes; `on…` are listeners, false and null are left out.
 * @param {string} tag @param {Record<string, any>} [attributes] @param {...Child} children @returns {HTMLElement} */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value") /** @type {HTMLInputElement} */ (element).value = value;
    else if (name === "checked") /** @type {HTMLInputElement} */ (element).checked = Boolean(value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, String(value));
  }
  for (const child of children.flat(2)) if (child || child === 0) element.append(typeof child === "object" ? child : String(child));
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
  h("label", { class: "tap" }, h("input", { type: "checkbox", id, checked: on, onchange: (/** @type {any} */ { target }) => deed(target.checked) }), h("span", {}, label));

/** @param {string} id @param {string} label @param {HTMLElement} control @param {string} [help] */
export function field(id, label, control, help = "") {
  control.id = id;
  return h("p", { class: "field" }, h("label", { for: id }, label), control, help && h("span", { class: "soft" }, help));
}

/** @param {string} number */
export const tel = (number) => `tel:${number.replace(/[^\d+]/g, "")}`;

/** The value of the control that an event is about. @param {Event} event */
export const given = (event) => /** @type {HTMLInputElement} */ (event.target).value;

/** @param {number} at */
export const clockOf = (at) => new Date(at).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });

/** @param {string} id */
export const valueOf = (id) => /** @type {HTMLInputElement} */ (document.getElementById(id)).value.trim();
