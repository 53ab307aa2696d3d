// @ts-check
// The day in order, one stop with its barn notes and lists, and what waits to be sent.
import * as store from "./store.js";
import { barn, state } from "./barn.js";
import { button, clockOf, dayOf, h, icon, shell, tel, tick } from "./dom.js";
import { change, isOutdoor } from "./look.js";


/** What became of a visit, by what was noted here and what the office knew. @param {number} pk @returns {[string, string]} word and kind */
export function stateOf(pk) {
  const sheet = barn.sheet(pk);
  const visit = barn.visit(pk);
  if (sheet.stopped) return ["Stopped", "hold"];
  if (sheet.couldNot || visit.status === "could_not_work") return ["Could not work", "hold"];
  if (sheet.done || visit.status === "completed") return ["Completed", "ready"];
  if (sheet.areas.size || Object.keys(sheet.arrival).length) return ["Begun", "info"];
  return [visit.permission.label, visit.permission.result];
}

/** @param {number} pk */
export const isOver = (pk) => ["Stopped", "Could not work", "Completed"].includes(stateOf(pk)[0]);

/** @type {Record<string, string>} */
const ICONS = { ready: "tick", ask: "warning", hold: "warning", info: "pen" };

/** @param {[string, string]} state */
export const chip = ([word, kind]) => h("span", { class: `chip ${kind}` }, icon(ICONS[kind] ?? "info"), word);

export function dayPage() {
  const today = new Date().toLocaleDateString("en-CA");
  const days = barn.pack.days.filter((day) => day.day >= today);
  const shown = days.length ? days : barn.pack.days;
  return [
    ...shown.map((day, n) =>
      h("section.day",
        h(n ? "h2" : "h1", { tabindex: -1 }, day.words),
        day.stops.length ? h("ol.stops", day.stops.map((stop) => stopLine(stop))) : h("p.soft", "No visits that day."),
        map(day),
      ),
    ),
    h("p.more", h("a.button", { href: "#/late" }, icon("clock"), "Running late"), button(isOutdoor() ? "Usual colors" : "Colors for bright sun", () => { change(); state.show(); }, "", { id: "look" }), h("a.button", { href: "/" }, "To the office")),
  ];
}

/** @param {Stop} stop */
function stopLine(stop) {
  const left = stop.visits.filter((pk) => !isOver(pk)).length;
  return h(
    "li",
    { class: left ? "" : "over" },
    h("a", { href: `#/stop/${stop.key}` }, h("span.time", stop.starts), h("span.where", h("strong", stop.barn), stop.isolation && chip(["Isolation: last", "ask"]), h("span.soft", stop.visits.map((pk) => barn.visit(pk).horse).join(", "))), left ? h("span.soft", `${left} to do`) : chip(["Done", "ready"])),
  );
}

/** The drawing of the round as the office made it. @param {Day} day */
function map(day) {
  if (!day.map) return null;
  const drawing = new DOMParser().parseFromString(day.map, "text/html").querySelector("svg");
  return h("details.map", { id: `map-${day.day}` }, h("summary", "Map of the day"), drawing);
}

/** @param {string} key */
export function stopPage(key) {
  const stop = barn.stop(key);
  if (!stop) return null;
  const first = stop.visits[0];
  const over = stop.visits.every((pk) => isOver(pk));
  const uses = stop.visits.some((pk) => barn.visit(pk).machine);
  return h("section", h("p.kicker", h("a", { href: "#/" }, "The day"), ` · ${stop.starts}`),
    h("h1", { tabindex: -1 }, stop.barn),
    h("ul.facts", facts(stop).map((line) => h("li", line))),
    uses && !over && list(first, "set_up", "Set-up list, once here", barn.sheet(first).lists.set_up ?? stop.set_up),
    h("ul.horses", stop.visits.map((pk) => horseLine(pk))),
    stop.isolation && over && list(first, "cleaning", "Before you go on", barn.sheet(first).lists.cleaning, "cleaned"),
    over && summary(stop),
  );
}

/** @param {Stop} stop */
function facts(stop) {
  const power = { no: "No power on site", yes: "Power on site" }[/** @type {string} */ (stop.power)] ?? "Power: not asked";
  const signal = { none: "No phone signal", weak: "Weak phone signal", ok: "Good phone signal" }[/** @type {string} */ (stop.signal)] ?? "Signal: not asked";
  return [stop.note, stop.light, `${power}. ${signal}.`, stop.phone && h("span", "Landline ", h("a", { href: tel(stop.phone) }, stop.phone)), stop.address && `${stop.address}${stop.place ? ` (${stop.place})` : ""}`].filter(Boolean);
}

/** A list to tick, kept at each tick. @param {number} visit @param {string} name @param {string} title @param {string[] | null | undefined} done */
function list(visit, name, title, done, kind = name) {
  const lines = barn.pack.lists[name];
  const ticked = new Set(done ?? []);
  const isWhole = ticked.size === lines.length;
  /** @param {string} key @param {boolean} on */
  const keep = (key, on) => {
    void barn.note(kind, visit, () => ({ done: lines.map(([each]) => each).filter((each) => (each === key ? on : (barn.sheet(visit).lists[name] ?? done ?? []).includes(each))) }));
  };
  return h("details.list", { open: !isWhole, id: `list-${name}` }, h("summary", `${title}: ${ticked.size} of ${lines.length}`), lines.map(([key, words]) => tick(`${name}-${key}`, words, ticked.has(key), (on) => keep(key, on))), !isWhole && button("All of it is so", () => void barn.note(kind, visit, { done: lines.map(([key]) => key) }), "", { id: `all-${name}` }));
}

/** @param {number} pk */
function horseLine(pk) {
  const visit = barn.visit(pk);
  return h("li", h("a", { href: `#/visit/${pk}` }, h("span", h("strong", visit.horse), h("span.soft", visit.looks), h("span.soft", `${visit.starts} ${visit.service}, ${visit.minutes} min`)), chip(stateOf(pk))));
}

/** What was done here, read back before driving on. @param {Stop} stop */
function summary(stop) {
  const lines = stop.visits.map((pk) => {
    const sheet = barn.sheet(pk);
    const minutes = [...sheet.areas.values()].reduce((sum, area) => sum + area.minutes, 0);
    const work = sheet.areas.size ? `${sheet.areas.size} areas, ${minutes} min` : stateOf(pk)[0].toLowerCase();
    const ease = [sheet.how.ease_before, sheet.how.ease_after].some((each) => each !== undefined) ? `, ease ${sheet.how.ease_before ?? "–"} to ${sheet.how.ease_after ?? "–"}` : "";
    return h("li", h("strong", barn.visit(pk).horse), `: ${work}${ease}. ${nextWords(sheet, barn.visit(pk).ahead)} `, h("a", { href: `#/visit/${pk}/next` }, sheet.next ? "Change" : "Set the next visit"));
  });
  const waiting = store.unsent().length + store.photos.size;
  return h("section.leaving", h("h2", "Leaving"), h("ul", lines), h("details", { id: "after-care" }, h("summary", "After-care, to read out"), h("p", h("strong", "Call your vet if "), `you see colic signs, fever, a leg that bears no weight, hot feet, staggering, ${shell.labored} breathing, a fresh wound, or anything that worries you.`), barn.pack.business.after_care.map((line) => h("p", line))), h("p.soft", waiting ? `${waiting} entries wait to be sent; they are kept on this phone.` : "Everything is sent."), h("a.button.primary.wide", { href: "#/" }, "Drive on"));
}

/** @param {import("./entries.js").Sheet} sheet @param {string} ahead */
function nextWords(sheet, ahead) {
  if (!sheet.next) return ahead ? `Next ${ahead}.` : "No next visit set.";
  return sheet.next.values.day ? `Next ${dayOf(`${sheet.next.values.day}T12:00`)}.` : `On the call list: ${sheet.next.values.reason}.`;
}

/** @type {Record<string, string>} */
const KINDS = { arrival: "Look-over", areas: "Areas", how: "How it went", done: "Completed", could_not: "Could not work", stop: "Stop and vet", next: "Next visit", set_up: "Set-up list", cleaned: "Cleaning list", sign: "Signature", money: "Money", measure: "Measure", told: "Told" };

export function waitingPage() {
  const rows = store.unsent();
  const kept = [...store.answers].filter(([, answer]) => answer.state !== "taken");
  /** @param {string} id */
  const words = (id) => {
    const entry = store.entries.get(id);
    return entry ? `${clockOf(entry.at)} ${KINDS[entry.kind] ?? entry.kind}, ${barn.visit(entry.visit)?.horse ?? "a visit of another day"}` : "An entry";
  };
  return h("section", h("h1", { tabindex: -1 }, "What waits to be sent"),
    rows.length + store.photos.size ? h("ul", rows.map((entry) => h("li", words(entry.id))), store.photos.size > 0 && h("li", `${store.photos.size} photo${store.photos.size > 1 ? "s" : ""}, after the entries`)) : h("p", "Nothing: all is at the office."),
    kept.length > 0 && h("h2", "A person decides at the desk"),
    kept.length > 0 && h("ul", kept.map(([id, answer]) => h("li", h("strong", words(id)), h("br"), answer.sentence))),
    h("p.soft", "What says “kept” stays on this phone until the office has it, whatever happens to the signal, the page or the battery."),
  );
}
