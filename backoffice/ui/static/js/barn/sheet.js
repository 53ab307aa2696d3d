// @ts-check
// One horse: permission and cautions, look-over, the work area by area, how it went, done.
import { barn, state } from "./barn.js";
import { button, clockOf, field, given, h, icon, shell, tick, valueOf } from "./dom.js";
import { ARRIVAL, ran } from "./entries.js";
import { drawing } from "./body.js";
import { chip, isOver, stateOf } from "./stop.js";
import { timerBar } from "./timer.js";

/** @typedef {import("./entries.js").Sheet} Sheet */

const NOT_TELLING = new Set(["near", "off", "left", "right", "lower", "upper", "both", "side", "and", "the", "of"]);
/** @param {string} name */
const telling = (name) => name.toLowerCase().split(/[\s,()]+/).map((word) => word.replace(/s+$/, "")).filter((word) => word && !NOT_TELLING.has(word));
/** Whether two names share a telling word: "Near hock" and "Hocks" do. @param {string} one @param {string} other */
const samePlace = (one, other) => telling(one).some((word) => telling(other).includes(word));

let opened = "";
let asDrawing = localStorage.getItem("places") === "drawing";

/** @param {number} pk */
export function sheetPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  const sheet = barn.sheet(pk);
  const over = isOver(pk);
  const held = visit.permission.result === "hold";
  const looked = ARRIVAL.every(([name]) => sheet.arrival[name]);
  return h("section.visit",
    h("p.kicker", h("a", { href: `#/stop/${barn.stopOf(pk).key}` }, barn.stopOf(pk).barn), ` · ${visit.starts}`),
    h("h1", { tabindex: -1 }, visit.horse),
    permission(visit),
    visit.cautions.map((each) => h("p.notice.ask", icon("warning"), h("strong", `Take care: ${each.area}. `), each.words)),
    visit.handling && h("p.notice.info", visit.handling),
    !visit.last && !over && barn.pack.business.first_session.length > 0 && firstTime(),
    visit.forms.filter((form) => !sheet.signed.includes(form.pk)).map((form) => h("a.button.wide", { href: `#/visit/${pk}/sign/${form.pk}` }, icon("pen"), `To sign: ${form.title}, ${form.signer}`)),
    over ? overview(pk, sheet) : held ? h("p.notice.hold", icon("warning"), "Do not start. This horse is on hold.") : [arrival(pk, sheet, looked), looked && [work(visit, sheet), how(visit, sheet), complete(visit, sheet)]],
    !over && h("div.ways-out", h("a.button.danger.wide", { href: `#/visit/${pk}/vet` }, icon("phone"), "Stop and call the vet"), h("a.button.wide", { href: `#/visit/${pk}/could-not` }, "Could not work today")),
    h("p.more", h("a.button.quiet", { href: `#/visit/${pk}/measures` }, `Measure${sheet.measures.length ? ` (${sheet.measures.length})` : ""}`), h("a.button.quiet", { href: `#/visit/${pk}/photo` }, `Photo${sheet.photos ? ` (${sheet.photos})` : ""}`), barn.pack.may.money && h("a.button.quiet", { href: `#/visit/${pk}/money` }, `Money${sheet.money.length ? ` (${sheet.money.length})` : ""}`), over && h("a.button.quiet", { href: `#/visit/${pk}/vet` }, "Call the vet")),
    sheet.timer && !over && timerBar(sheet.timer, (timer) => void barn.note("timer", pk, timer, true), (timer, minutes) => void endTimer(pk, sheet, timer.area, minutes)),
  );
}

/** @param {Visit} visit */
function permission(visit) {
  const { result, label, reasons, notes } = visit.permission;
  return h("div", { class: `permission ${result}` }, chip([label, result]), reasons.map(([, sentence, clears]) => h("p", sentence, h("span.soft", ` Clears it: ${clears}`))), notes.map((note) => h("p.soft", note)));
}

const firstTime = () => h("details.list", { id: "first-time", open: localStorage.getItem("first-time") !== "away", ontoggle: (/** @type {any} */ { target }) => localStorage.setItem("first-time", target.open ? "" : "away") }, h("summary", "First session with us"), h("ul", barn.pack.business.first_session.map((line) => h("li", line))));

/** @param {number} pk @param {Sheet} sheet @param {boolean} looked */
function arrival(pk, sheet, looked) {
  const lines = ARRIVAL.map(([name, label]) => tick(`arrival-${name}`, label, sheet.arrival[name], (on) => void barn.note("arrival", pk, () => ({ ...Object.fromEntries(ARRIVAL.map(([each]) => [each, false])), ...barn.sheet(pk).arrival, [name]: on }))));
  const signs = h("p.soft", `Stop signs: colic, fever, a leg that bears no weight, hot feet or a rocked-back stance, choke, staggering, ${shell.labored} breathing, a fresh untreated wound, a warm or swollen place newly seen. Then do not start: call the vet.`);
  return h("details.list", { open: !looked, id: "arrival" }, h("summary", looked ? "Look-over on arrival: all as it should be" : "Look-over on arrival"), lines, signs);
}

/** @param {Visit} visit @param {Sheet} sheet */
function work(visit, sheet) {
  const careful = new Set(barn.pack.body.map(([name]) => name).filter((name) => visit.cautions.some((each) => samePlace(name, each.area))));
  const names = [...barn.pack.body.map(([name]) => name), ...[...sheet.areas.keys()].filter((name) => !barn.pack.body.some(([each]) => each === name))];
  const keep = (/** @type {Area[]} */ areas) => void barn.note("areas", visit.pk, { areas });
  /** @param {string} name */
  const toggle = (name) => void barn.note("areas", visit.pk, () => ({ areas: [barn.sheet(visit.pk).areas.has(name) ? blank(name, 0) : usual(visit, name)] }));
  const planned = visit.full ? barn.pack.body.filter(([name, , offered]) => offered && !careful.has(name)).map(([name]) => usual(visit, name)) : [];
  const before = (visit.last?.areas ?? []).filter((area) => ![...careful].includes(area.area)).map((area) => ({ ...area, reaction: "" }));
  const minutes = [...sheet.areas.values()].reduce((sum, area) => sum + area.minutes, 0);
  const another = () => {
    const name = valueOf("another");
    /** @type {HTMLInputElement} */ (document.getElementById("another")).value = "";
    if (name) keep([usual(visit, name)]);
  };
  const say = (/** @type {Area[]} */ areas) => `${areas.length} area${areas.length > 1 ? "s" : ""}, ${areas.reduce((sum, area) => sum + area.minutes, 0)} min`;
  return h("section.work",
    h("h2", `${visit.service}, ${visit.minutes} min`, h("span.soft", sheet.areas.size ? ` · ${sheet.areas.size} areas, ${minutes} min so far` : "")),
    visit.plan && h("p.soft", visit.plan),
    visit.last && h("p.soft", `Last time, ${visit.last.words}${visit.last.reaction ? `, “${visit.last.reaction}”` : ""}${visit.last.ease !== null ? `, ease ${visit.last.ease} after` : ""}.`),
    !sheet.areas.size && planned.length > 0 && button(`Done as planned: ${say(planned)}`, () => keep(planned), "primary wide", { id: "as-planned" }),
    !sheet.areas.size && before.length > 0 && button(`As last time: ${say(before)}`, () => keep(before), "wide", { id: "as-last" }),
    h("p.switch", button(asDrawing ? "Show the list" : "Show the horse", () => {
      asDrawing = !asDrawing;
      localStorage.setItem("places", asDrawing ? "drawing" : "list");
      state.show();
    }, "quiet", { id: "switch" })),
    asDrawing ? h("div.drawing", drawing(new Set(sheet.areas.keys()), careful, toggle)) : null,
    asDrawing ? null : h("ul.places", names.map((name) => areaLine(visit, sheet, { name, careful: careful.has(name), toggle, keep }))),
    field("another", "Another place", h("input", { type: "text", maxlength: 80, onchange: another })),
  );
}

/** @param {string} area @param {number} minutes @returns {Area} */
const blank = (area, minutes) => ({ area, minutes, applicator: null, setting: null, reaction: "" });

/** What a place starts with: minutes and applicator as last time there, else the usual. @param {Visit} visit @param {string} name @returns {Area} */
function usual(visit, name) {
  const last = visit.last?.areas.find((area) => area.area === name);
  return last ? { ...last, reaction: "" } : { ...blank(name, barn.pack.minutes), applicator: visit.machine ? (barn.pack.applicators[0]?.[0] ?? null) : null };
}

/** @param {Visit} visit @param {Sheet} sheet
 * @param {{ name: string, careful: boolean, toggle: (name: string) => void, keep: (areas: Area[]) => void }} line */
function areaLine(visit, sheet, { name, careful, toggle, keep }) {
  const area = sheet.areas.get(name);
  const key = name.replace(/\W+/g, "-");
  const group = barn.pack.body.find(([each]) => each === name)?.[1] ?? "";
  const open = opened === name;
  const timing = sheet.timer?.area === name;
  const start = () => void barn.note("timer", visit.pk, { area: name, goal: area?.minutes ?? barn.pack.minutes, spent: 0, since: Date.now() }, true);
  const used = [barn.pack.applicators.find(([pk]) => pk === area?.applicator)?.[1], area?.setting && `setting ${area.setting}`, area?.reaction].filter(Boolean).join(", ");
  return h(
    "li",
    { class: area ? "worked" : "", "data-group": group },
    h("button", { type: "button", class: "place", id: `place-${key}`, "aria-pressed": String(Boolean(area)), onclick: () => toggle(name) }, h("span", name, careful && h("span.chip.ask", icon("warning"), "Caution: ask first, weakest setting")), h("span.num", area ? `${area.minutes} min` : "")),
    area && h("button", { type: "button", class: "fine-open", id: `fine-${key}`, "aria-expanded": String(open), onclick: () => { opened = open ? "" : name; state.show(); } }, used || (visit.machine ? "Applicator, setting, reaction" : "Minutes, reaction")),
    !sheet.timer && button("Timer", start, "quiet", { id: `time-${key}`, "aria-label": `Timer for ${name}` }),
    timing && h("span.soft", "timer runs"),
    area && open && fine(visit, area, key, keep),
  );
}

/** @param {Visit} visit @param {Area} area @param {string} key @param {(areas: Area[]) => void} keep */
function fine(visit, area, key, keep) {
  const put = (/** @type {Partial<Area>} */ part) => keep([{ ...area, ...part }]);
  /** @param {"minutes" | "setting"} what @param {number} most */
  const more = (what, most) => {
    const now = area[what] ?? 0;
    const words = what === "minutes" ? "Minutes" : "Setting";
    return h("p.stepper", h("span", `${words} `, h("strong", now || "–")), button("−", () => now > 1 && put({ [what]: now - 1 }), "", { id: `${what}-less-${key}`, "aria-label": `${words} less` }), button("+", () => now < most && put({ [what]: now + 1 }), "", { id: `${what}-more-${key}`, "aria-label": `${words} more` }));
  };
  const select = h("select", { onchange: (/** @type {Event} */ e) => put({ applicator: Number(given(e)) || null }) }, h("option", { value: "" }, "–"), barn.pack.applicators.map(([pk, words]) => h("option", { value: pk, selected: pk === area.applicator }, words)));
  const reaction = h("input", { type: "text", maxlength: 300, value: area.reaction, onchange: (/** @type {Event} */ e) => put({ reaction: given(e) }) });
  return h("div.fine", more("minutes", 120), visit.machine && more("setting", 20), visit.machine && field(`applicator-${key}`, "Applicator", select), field(`reaction-${key}`, "Reaction", reaction));
}

/** @param {number} pk @param {Sheet} sheet @param {string} name @param {number} minutes */
async function endTimer(pk, sheet, name, minutes) {
  const area = sheet.areas.get(name) ?? usual(barn.visit(pk), name);
  if (await barn.note("areas", pk, { areas: [{ ...area, minutes }] })) await barn.note("timer", pk, { area: "" }, true);
}

/** @param {Visit} visit @param {Sheet} sheet */
function how(visit, sheet) {
  const put = (/** @type {Record<string, any>} */ part) => void barn.note("how", visit.pk, part);
  /** @param {string} name @param {string} label */
  const scale = (name, label) =>
    h("fieldset.ease", h("legend", `${label} (0 to 10, may stay blank)`), Array.from({ length: 11 }, (_, n) => button(String(n), () => put({ [name]: sheet.how[name] === n ? null : n }), "", { id: `${name}-${n}`, "aria-pressed": String(sheet.how[name] === n) })));
  /** @param {string} name @param {string} label @param {number} most */
  const text = (name, label, most) => field(name, label, h("textarea", { rows: 2, maxlength: most, value: sheet.how[name] ?? "", onchange: () => put({ [name]: valueOf(name) }) }));
  return h("section.how", h("h2", "How it went"), scale("ease_before", "Ease before"), scale("ease_after", "Ease after"), text("reaction", "Reaction", 300), text("note", "Note, goes into the report", 4000));
}

/** @param {Visit} visit @param {Sheet} sheet */
function complete(visit, sheet) {
  const asks = visit.permission.result === "ask";
  const reason = asks && barn.pack.may.override && field("override", "Reason to go on after “ask”", h("input", { type: "text", maxlength: 500 }), "Kept with your name.");
  const end = async () => {
    if (sheet.timer) await endTimer(visit.pk, sheet, sheet.timer.area, Math.max(1, Math.round(ran(sheet.timer, Date.now()) / 60_000)));
    if (await barn.note("done", visit.pk, reason ? { override_reason: valueOf("override") } : {})) location.hash = `#/visit/${visit.pk}/next`;
  };
  return h("section", asks && !barn.pack.may.override && h("p.notice.ask", "Permission says ask: only a practitioner goes on, with a reason."), reason, button("Complete the visit", end, "primary wide", { id: "complete" }));
}

/** @param {number} pk @param {Sheet} sheet */
function overview(pk, sheet) {
  const areas = [...sheet.areas.values()].map((area) => h("li", area.area, h("span.num", `${area.minutes} min`)));
  const ended = sheet.stopped ?? sheet.couldNot ?? sheet.done;
  return h("section", h("p", chip(stateOf(pk)), ended && ` at ${clockOf(ended.at)}`), areas.length > 0 && h("ul.done-areas", areas), sheet.stopped && h("p.notice.hold", sheet.stopped.values.seen), h("a.button.primary.wide", { href: `#/visit/${pk}/next` }, sheet.next ? "Change the next visit" : "Set the next visit"));
}
