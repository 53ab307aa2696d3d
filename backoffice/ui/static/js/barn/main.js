// @ts-check
// The page in the barn: opens what this phone keeps, shows the place that the address names, and keeps what is said.
import * as sending from "./sending.js";
import * as store from "./store.js";
import { barn, state } from "./barn.js";
import { button, clockOf, dayOf, h, shell } from "./dom.js";
import { couldNotPage, vetPage } from "./vet.js";
import { latePage, moneyPage, nextPage, photoPage } from "./leaving.js";
import { measurePage, measuresPage } from "./measuring.js";
import { sheetPage } from "./sheet.js";
import { putOn } from "./look.js";
import { signPage } from "./signing.js";
import { dayPage, stopPage, waitingPage } from "./stop.js";

const main = /** @type {HTMLElement} */ (document.querySelector("main"));
const top = /** @type {HTMLElement} */ (document.querySelector("header"));

/** Place by address; null for what is not held. @type {[RegExp, (...parts: any[]) => HTMLElement | HTMLElement[] | null][]} */
const PLACES = [
  [/^stop\/([\w-]+)$/, (key) => stopPage(key)],
  [/^visit\/(\d+)$/, (pk) => sheetPage(Number(pk))],
  [/^visit\/(\d+)\/vet$/, (pk) => vetPage(Number(pk))],
  [/^visit\/(\d+)\/could-not$/, (pk) => couldNotPage(Number(pk))],
  [/^visit\/(\d+)\/next$/, (pk) => nextPage(Number(pk))],
  [/^visit\/(\d+)\/money$/, (pk) => moneyPage(Number(pk))],
  [/^visit\/(\d+)\/photo$/, (pk) => photoPage(Number(pk))],
  [/^visit\/(\d+)\/sign\/(\d+)$/, (pk, form) => signPage(Number(pk), Number(form))],
  [/^visit\/(\d+)\/measures$/, (pk) => measuresPage(Number(pk))],
  [/^visit\/(\d+)\/measure\/(\w+)$/, (pk, name) => measurePage(Number(pk), name)],
  [/^late$/, () => latePage()],
  [/^waiting$/, () => waitingPage()],
  [/^$/, () => dayPage()],
];

const place = () => location.hash.replace(/^#\/?/, "");
let shownPlace = "";

function show() {
  const at = place();
  const focused = document.activeElement?.id;
  const was = scrollY;
  const begun = at === shownPlace ? unfinished() : [];
  top.replaceChildren(...header());
  main.replaceChildren(...(barn.pack ? [drawn(at)] : [nothingYet()]).flat());
  for (const part of parts()) asDrawn.set(part, standOf(part));
  for (const [id, stand] of begun) resume(document.getElementById(id), stand);
  document.title = `${main.querySelector("h1")?.textContent ?? here} · ${here}`;
  if (at !== shownPlace) {
    scrollTo(0, 0);
    /** @type {HTMLElement | null} */ (main.querySelector("h1"))?.focus();
  } else {
    scrollTo(0, was);
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  shownPlace = at;
}

/** @typedef {HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement | HTMLDetailsElement} Part */
/** How each part that one can type in or unfold stood when it was drawn. @type {WeakMap<Part, string | boolean>} */
const asDrawn = new WeakMap();
/** @returns {Part[]} */
const parts = () => [...main.querySelectorAll(/** @type {"input"} */ ("details[id], textarea[id], select[id], input[id]:not([type=checkbox], [type=file])"))];
/** @param {Part} part */
const standOf = (part) => (part instanceof HTMLDetailsElement ? part.open : part.value);

/** What somebody typed or unfolded on this page and no entry holds. @returns {[string, string | boolean][]} */
const unfinished = () => parts().filter((part) => asDrawn.get(part) !== standOf(part)).map((part) => [part.id, standOf(part)]);

/** @param {HTMLElement | null} part @param {string | boolean} stand */
function resume(part, stand) {
  if (part) Object.assign(part, part instanceof HTMLDetailsElement ? { open: stand } : { value: stand });
}

/** Pages that are one form: what happens behind them does not draw over what is being filled in. */
const FORMS = /\/(vet|could-not|next|money|photo|sign\/\d+|measure\/\w+)$/;

/** Something else changed: what somebody fills in stays as it is. */
function refresh() {
  const typing = document.activeElement instanceof HTMLTextAreaElement || (document.activeElement instanceof HTMLInputElement && document.activeElement.type !== "checkbox");
  if (typing || (barn.pack && FORMS.test(shownPlace))) top.replaceChildren(...header());
  else show();
}

/** @param {string} at @returns {HTMLElement | HTMLElement[]} */
function drawn(at) {
  for (const [pattern, page] of PLACES) {
    const found = at.match(pattern);
    if (found) return page(...found.slice(1)) ?? notHere();
  }
  return notHere();
}

const notHere = () => h("section", h("h1", { tabindex: -1 }, "Not in what was taken along"), h("p", "This visit is not among the days that this phone holds."), h("a.button.primary", { href: "#/" }, "To the day"));

function nothingYet() {
  const sentence = sending.status.word === "removed" ? sending.status.sentence : "With a signal, take today and tomorrow along. Then everything here works without one.";
  return h("section", h("h1", { tabindex: -1 }, "Nothing is taken along yet"), h("p", sentence), button("Take the day along", take, "primary wide", { id: "take" }), h("p.soft", "Names and numbers stay on this phone until you sign out. Lock it by a PIN of its own."));
}

async function take() {
  try {
    await sending.takeAlong();
    state.trouble = "";
  } catch (fault) {
    state.trouble = sending.status.word === "removed" ? sending.status.sentence : fault instanceof TypeError ? "No signal: the day cannot be taken along now." : "Sign in first, then take the day along.";
  }
  show();
}

function header() {
  const waiting = store.unsent().length + store.photos.size;
  const { word, sentence } = sending.status;
  const trouble = state.trouble && h("p.notice.hold", { role: "alert" }, state.trouble);
  const sent = waiting ? `${waiting} to send` : "All sent";
  const old = barn.pack && Date.now() - barn.pack.taken > 20 * 3_600_000;
  const foreign = store.unsent().some((entry) => sending.status.person !== null && entry.by !== sending.status.person);
  return [
    h("div.line", h("a.brand", { href: "#/" }, here), h("a.state", { href: "#/waiting" }, sent, word === "away" && h("span.soft", ", no signal"))),
    barn.pack && h("p", { class: `soft taken${old ? " old" : ""}` }, `Taken along ${dayOf(barn.pack.taken)} ${clockOf(barn.pack.taken)}`, h("button", { type: "button", class: "link", id: "take-again", onclick: take }, "Again")),
    word !== "quiet" && word !== "away" && h("p.notice.ask", `${sentence} `, word === "sign in" && h("a", { href: `${shell.signIn}?next=${location.pathname}` }, "Sign in")),
    foreign && h("p.notice.ask", "Some entries are another person’s: they wait here until that person signs in."),
    store.space.low && h("p.notice.ask", "This phone is almost full: make room before you go on."),
    trouble,
  ].filter((part) => part instanceof HTMLElement);
}

const here = `In the ${shell.barn}`;
putOn();
await store.open(String(shell.journal), refresh);
sending.start({ hello: String(shell.hello), pack: String(shell.pack), entries: String(shell.entries) }, refresh);
Object.assign(state, { show, refresh });
addEventListener("hashchange", show);
show();
if (navigator.onLine && (!barn.pack || Date.now() - barn.pack.taken > 3_600_000)) void take();
await navigator.serviceWorker?.register(String(shell.keeper));
