// @ts-check
// The page in the barn: opens what this phone keeps, shows the place that the address names, and keeps what is said.
import * as sending from "./sending.js";
import * as store from "./store.js";
import { button, clockOf, h } from "./dom.js";
import { sheetOf, uuid7 } from "./entries.js";
import { couldNotPage, vetPage } from "./vet.js";
import { latePage, moneyPage, nextPage, photoPage } from "./leaving.js";
import { sheetPage } from "./sheet.js";
import { signPage } from "./signing.js";
import { dayPage, stopPage, waitingPage } from "./stop.js";

/** @typedef {import("./entries.js").Sheet} Sheet */

const main = /** @type {HTMLElement} */ (document.querySelector("main"));
const top = /** @type {HTMLElement} */ (document.querySelector("header"));
const live = /** @type {HTMLElement} */ (document.getElementById("live"));
let trouble = "";

/** What the pages work with. */
export const barn = {
  /** The days taken along; no page is drawn without them. */
  get pack() {
    return /** @type {import("./pack").Pack} */ (store.held.pack);
  },
  get stops() {
    return barn.pack.days.flatMap((day) => day.stops);
  },
  /** @param {number} pk @returns {import("./pack").Visit} of the days held, as each page checks first */
  visit: (pk) => barn.pack.days.map((day) => day.visits[pk]).filter(Boolean)[0],
  /** @param {string} key */
  stop: (key) => barn.stops.find((stop) => stop.key === key),
  /** @param {number} pk */
  stopOf: (pk) => /** @type {import("./pack").Stop} */ (barn.stops.find((stop) => stop.visits.includes(pk))),
  /** @param {number} pk @returns {Sheet} */
  sheet: (pk) => sheetOf(pk, store.entries.values()),
  /** Keeps an entry; true when it is on the disk, and only then. @param {string} kind @param {number} visit @param {any} values */
  async note(kind, visit, values, local = false) {
    const entry = { id: uuid7(), by: barn.pack.person.pk, visit, at: Date.now(), offset: sending.offset(), kind, values, ...(local && { local }) };
    try {
      if (kind === "photo") {
        await store.keepPhoto(entry);
        entry.values = { words: values.words };
        await store.append({ ...entry, id: uuid7(), local: true });
      } else await store.append(entry);
    } catch (fault) {
      trouble =
        fault instanceof DOMException && fault.name === "QuotaExceededError"
          ? "NOT kept: the storage of this phone is full. Make room, then enter it again."
          : "NOT kept: this phone could not write. Enter it again, or write it on paper.";
      show();
      return false;
    }
    trouble = "";
    live.textContent = "Kept on this phone.";
    if (!local) sending.soon();
    return true;
  },
};

/** Place by address; null for what is not held. @type {[RegExp, (...parts: any[]) => HTMLElement | HTMLElement[] | null][]} */
const PLACES = [
  [/^stop\/([\w-]+)$/, (key) => stopPage(barn, key)],
  [/^visit\/(\d+)$/, (pk) => sheetPage(barn, Number(pk), show)],
  [/^visit\/(\d+)\/vet$/, (pk) => vetPage(barn, Number(pk))],
  [/^visit\/(\d+)\/could-not$/, (pk) => couldNotPage(barn, Number(pk))],
  [/^visit\/(\d+)\/next$/, (pk) => nextPage(barn, Number(pk))],
  [/^visit\/(\d+)\/money$/, (pk) => moneyPage(barn, Number(pk))],
  [/^visit\/(\d+)\/photo$/, (pk) => photoPage(barn, Number(pk))],
  [/^visit\/(\d+)\/sign\/(\d+)$/, (pk, form) => signPage(barn, Number(pk), Number(form))],
  [/^late$/, () => latePage(barn)],
  [/^waiting$/, () => waitingPage(barn)],
  [/^$/, () => dayPage(barn)],
];

const place = () => location.hash.replace(/^#\/?/, "");
let shownPlace = "";

function show() {
  const at = place();
  const focused = document.activeElement?.id;
  const was = scrollY;
  top.replaceChildren(...header());
  main.replaceChildren(...(barn.pack ? [drawn(at)] : [nothingYet()]).flat());
  document.title = `${main.querySelector("h1")?.textContent ?? "In the barn"} · In the barn`;
  if (at !== shownPlace) {
    scrollTo(0, 0);
    /** @type {HTMLElement | null} */ (main.querySelector("h1"))?.focus();
  } else {
    scrollTo(0, was);
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  }
  shownPlace = at;
}

/** Not while somebody types: what is typed is not drawn over. */
function refresh() {
  const typing = document.activeElement instanceof HTMLTextAreaElement || (document.activeElement instanceof HTMLInputElement && document.activeElement.type !== "checkbox");
  if (typing) top.replaceChildren(...header());
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

const notHere = () => h("section", {}, h("h1", { tabindex: -1 }, "Not in what was taken along"), h("p", {}, "This visit is not among the days that this phone holds."), h("a", { class: "button primary", href: "#/" }, "To the day"));

function nothingYet() {
  const sentence = sending.status.word === "removed" ? sending.status.sentence : "With a signal, take today and tomorrow along. Then everything here works without one.";
  return h("section", {}, h("h1", { tabindex: -1 }, "Nothing is taken along yet"), h("p", {}, sentence), button("Take the day along", take, "primary wide", { id: "take" }), h("p", { class: "soft" }, "Names and numbers stay on this phone until you sign out. Lock it by a PIN of its own."));
}

async function take() {
  try {
    await sending.takeAlong();
    trouble = "";
  } catch (fault) {
    trouble = sending.status.word === "removed" ? sending.status.sentence : fault instanceof TypeError ? "No signal: the day cannot be taken along now." : "Sign in first, then take the day along.";
  }
  show();
}

function header() {
  const waiting = store.unsent().length + store.photos.size;
  const { word, sentence } = sending.status;
  const full = trouble && h("p", { class: "notice hold", role: "alert" }, trouble);
  const state = waiting ? `${waiting} to send` : "All sent";
  const old = barn.pack && Date.now() - barn.pack.taken > 20 * 3_600_000;
  const foreign = store.unsent().some((entry) => sending.status.person !== null && entry.by !== sending.status.person);
  return [
    h("div", { class: "line" }, h("a", { class: "brand", href: "#/" }, "In the barn"), h("a", { class: "state", href: "#/waiting" }, state, word === "away" && h("span", { class: "soft" }, ", no signal"))),
    barn.pack && h("p", { class: `soft taken${old ? " old" : ""}` }, `Taken along ${new Date(barn.pack.taken).toLocaleDateString([], { weekday: "short", day: "numeric", month: "short" })} ${clockOf(barn.pack.taken)}`, h("button", { type: "button", class: "link", id: "take-again", onclick: take }, "Again")),
    word !== "quiet" && word !== "away" && h("p", { class: "notice ask" }, `${sentence} `, word === "sign in" && h("a", { href: `${root.signIn}?next=${location.pathname}` }, "Sign in")),
    foreign && h("p", { class: "notice ask" }, "Some entries are another person’s: they wait here until that person signs in."),
    full,
  ].filter((part) => part instanceof HTMLElement);
}

const root = document.documentElement.dataset;
await store.open(String(root.journal), refresh);
sending.start({ hello: String(root.hello), pack: String(root.pack), entries: String(root.entries) }, refresh);
addEventListener("hashchange", show);
show();
if (navigator.onLine && (!barn.pack || Date.now() - barn.pack.taken > 3_600_000)) void take();
await navigator.serviceWorker?.register(String(root.keeper));
