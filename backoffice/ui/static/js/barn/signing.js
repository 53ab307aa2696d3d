// @ts-check
// A form signed on this phone: the text as it stands there, the name, the role, the drawn signature.
import { barn } from "./barn.js";
import { pad } from "../signature.js";
import { field, h, valueOf } from "./dom.js";

/** @param {number} pk @param {number} number */
export function signPage(pk, number) {
  const visit = barn.visit(pk);
  const form = visit?.forms.find((each) => each.pk === number);
  if (!form) return null;
  const box = h("div.pad", { "data-signature": true }, h("canvas", { role: "img", "aria-label": "Box to sign in" }), h("input", { type: "hidden", id: "strokes" }), h("p", { "data-said": true, "aria-live": "polite" }), h("button", { type: "button", class: "button quiet", "data-clear": true }, "Clear"), h("div", { "data-pad": true, hidden: true }), h("div", { "data-no-script": true }));
  const fault = h("p.notice.hold", { role: "alert", hidden: true });
  /** @param {string} sentence */
  const say = (sentence) => {
    fault.textContent = sentence;
    fault.hidden = false;
    fault.scrollIntoView({ block: "center" });
  };
  /** @param {Event} event */
  const sign = async (event) => {
    event.preventDefault();
    const capacity = /** @type {HTMLInputElement | null} */ (document.querySelector("[name=capacity]:checked"))?.value;
    const wanted = form.as.find(([value]) => value === capacity)?.[2];
    const strokes = JSON.parse(/** @type {HTMLInputElement} */ (document.getElementById("strokes")).value || "[]");
    const name = valueOf("signer-name");
    if (!capacity) return say("Say as what you sign.");
    if (!name || (wanted && name.toLowerCase() !== wanted.toLowerCase())) return say(wanted ? `Type the name as it stands on the form: ${wanted}.` : "Type your name.");
    if (!strokes.length) return say("Sign in the box.");
    if (await barn.note("sign", pk, { form: form.pk, name_typed: name, capacity, strokes, read: form.read })) location.hash = `#/visit/${pk}`;
  };
  const made = h("form.sign", { onsubmit: sign },
    h("p.kicker", h("a", { href: `#/visit/${pk}` }, visit.horse)),
    h("h1", { tabindex: -1 }, form.title),
    h("div.text-to-sign", form.text.split(/\n{2,}/).map((part) => h("p", part))),
    form.as.length
      ? [
          fault,
          h("fieldset", h("legend", `${form.signer} signs as`), form.as.map(([value, label], n) => h("label.tap", h("input", { type: "radio", name: "capacity", value, checked: n === 0 }), h("span", label)))),
          field("signer-name", "Name", h("input", { type: "text", maxlength: 120, autocomplete: "off" }), form.as[0][2] ? `As it stands on the form: ${form.as[0][2]}.` : ""),
          box,
          h("button", { type: "submit", class: "button primary wide" }, "Sign"),
          h("p.soft", "The sealed paper is made at the office when this phone has a signal; a copy goes to the signer."),
        ]
      : h("p.notice.ask", `${form.signer} may not sign this today. Look at the form at the desk.`),
  );
  queueMicrotask(() => requestAnimationFrame(() => box.isConnected && pad(box)));
  return made;
}
