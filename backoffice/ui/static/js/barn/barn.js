// @ts-check
// What every page in the barn works with: the day taken along, the sheets as noted so far, and the one way to note.
import * as sending from "./sending.js";
import * as store from "./store.js";
import { sheetOf, uuid7 } from "./entries.js";

/** @typedef {import("./entries.js").Sheet} Sheet */

/** What stands above every page; `show` draws the page again, `refresh` only what nobody is filling in. */
export const state = { trouble: "", show: () => {}, refresh: () => {} };

let turn = Promise.resolve(true);

export const barn = {
  /** The days taken along; no page is drawn without them. */
  get pack() {
    return /** @type {Pack} */ (store.held.pack);
  },
  get stops() {
    return barn.pack.days.flatMap((day) => day.stops);
  },
  /** @param {number} pk @returns {Visit} of the days held, as each page checks first */
  visit: (pk) => barn.pack.days.map((day) => day.visits[pk]).filter(Boolean)[0],
  /** @param {string} key */
  stop: (key) => barn.stops.find((stop) => stop.key === key),
  /** @param {number} pk */
  stopOf: (pk) => /** @type {Stop} */ (barn.stops.find((stop) => stop.visits.includes(pk))),
  /** @param {number} pk @returns {Sheet} */
  sheet: (pk) => sheetOf(pk, store.entries.values()),
  /** Keeps an entry; true when it is on the disk, and only then. One after another: values that build on what is kept
   * are given as a function, asked when it is their turn. @param {string} kind @param {number} visit @param {any} values
   * @returns {Promise<boolean>} */
  note(kind, visit, values, local = false) {
    const kept = turn.then(() => keep(kind, visit, typeof values === "function" ? values() : values, local));
    turn = kept.catch(() => false); // one that fails holds up none after it
    return kept;
  },
};

/** @param {string} kind @param {number} visit @param {any} values @param {boolean} local */
async function keep(kind, visit, values, local) {
  const entry = { id: uuid7(), by: barn.pack.person.pk, visit, at: Date.now(), offset: sending.offset(), kind, values, ...(local && { local }) };
  try {
    if (kind === "photo") {
      await store.keepPhoto(entry);
      entry.values = { words: values.words };
      await store.append({ ...entry, id: uuid7(), local: true });
    } else await store.append(entry);
  } catch (fault) {
    state.trouble =
      fault instanceof DOMException && fault.name === "QuotaExceededError"
        ? "NOT kept: the storage of this phone is full. Make room, then enter it again."
        : "NOT kept: this phone could not write. Enter it again, or write it on paper.";
    state.refresh();
    return false;
  }
  state.trouble = "";
  const live = document.getElementById("live");
  if (live) live.textContent = "Kept on this phone.";
  if (!local) sending.soon();
  return true;
}
