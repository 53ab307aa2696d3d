// @ts-check
// Stop and call the vet; could not work today.
import { barn } from "./barn.js";
import { button, clockOf, field, h, icon, shell, tel, valueOf } from "./dom.js";


/** What one sees, in plain words: no illness by name. Common practice, no published source. */
const SEEN = ["Pawing, looks at its belly", "Lies down, will not get up", "Sweating without work", "Bears no weight on a leg", "Hot feet or rocked-back stance", "Staggering", `Breathing ${shell.labored}`, "Something stuck in the throat", "Fresh wound", "Warm or swollen place, newly seen", "Feels hot"];

/** @param {number} pk */
export function vetPage(pk) {
  const visit = barn.visit(pk);
  const stop = barn.stopOf(pk);
  const sheet = barn.sheet(pk);
  if (!visit) return null;
  const now = clockOf(Date.now());
  const seen = /** @type {HTMLTextAreaElement} */ (h("textarea", { rows: 4, maxlength: 2000 }, `${now} `));
  /** @type {(string[] | null)[]} */
  const numbers = [visit.vet && [`Vet: ${visit.vet[0]}`, visit.vet[1]], ...visit.people.map(([, name, words, phone]) => [`${words}: ${name}`, phone]), [`Landline: ${stop.barn}`, stop.phone]];
  return h("section", h("p.kicker", h("a", { href: `#/visit/${pk}` }, visit.horse)),
    h("h1", { tabindex: -1 }, "Stop and call the vet"),
    h("ul.numbers", numbers.flatMap((line) => !line?.[1] ? [] : h("li", h("a.button.danger.wide", { href: tel(line[1]) }, icon("phone"), `${line[0]}, ${line[1]}`)))),
    !visit.vet?.[1] && h("p.notice.ask", `No vet’s number is recorded for this horse: ask the owner or the ${shell.barn}.`),
    h("p", "To read out: ", h("strong", stop.barn), stop.address && `, ${stop.address}`, stop.place && `, map ${stop.place}`, signalWords(stop)),
    sheet.stopped
      ? h("p.notice.hold", `Kept at ${clockOf(sheet.stopped.at)}: ${visit.horse} is on hold.`)
      : h(
          "form",
          {
            onsubmit: async (/** @type {Event} */ event) => {
              event.preventDefault();
              if (await barn.note("stop", pk, { seen: valueOf("seen") })) location.hash = `#/visit/${pk}`;
            },
          },
          field("seen", "What you see, without naming an illness", seen),
          h("div.words", SEEN.map((words) => button(words, () => void (seen.value += `${seen.value.endsWith(" ") ? "" : ". "}${words}`), "quiet"))),
          h("button", { type: "submit", class: "button danger wide" }, "Write it down and hold the horse"),
        ),
    h("p.soft", "This software does not judge illness. Stay with the horse if it is safe, and do what the vet says."),
  );
}

/** @param {Stop} stop */
const signalWords = (stop) => ({ none: ". No phone signal here: use the landline or drive to one.", weak: ". The signal here is weak.", ok: "", unknown: "" })[stop.signal] ?? "";

/** @param {number} pk */
export function couldNotPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  const note = h("textarea", { rows: 3, maxlength: 2000 });
  /** @param {string} cause */
  const because = async (cause) => {
    if (await barn.note("could_not", pk, { cause, note: valueOf("could-not-note") })) location.hash = `#/visit/${pk}/next`;
  };
  return h("section", h("p.kicker", h("a", { href: `#/visit/${pk}` }, visit.horse)),
    h("h1", { tabindex: -1 }, "Could not work today"),
    field("could-not-note", "Note, if any", note, "What you saw; no illness by name."),
    h("div.choices", barn.pack.causes.map(([cause, words]) => button(words, () => because(cause), "wide", { "data-cause": cause }))),
    h("p.soft", "Whether it costs anything is proposed by your rule and confirmed by a person, at the desk."),
  );
}
