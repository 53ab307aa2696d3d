// @ts-check
// What this phone keeps: rows in the journal, the day taken along, photos. Asks the worker and remembers its answers.
import { uuid7 } from "./entries.js";

/** @typedef {import("./entries.js").Entry} Entry */

/** What this page can read; a day in an older form is taken along anew. */
const PACK_VERSION = 3;
const page = uuid7();
/** @type {Worker} */
let worker;
let asked = 0;
/** @type {Map<number, { resolve: (answer: any) => void, reject: (fault: Error) => void }>} */
const waiting = new Map();
/** @type {BroadcastChannel} */
let others;
/** @type {() => void} */
let changed = () => {};

/** All rows of all pages, in the order of their ids. @type {Map<string, Entry>} */
export const entries = new Map();
/** What the office said of each: taken, open or refused, and why. @type {Map<string, { state: string, sentence: string }>} */
export const answers = new Map();
/** @type {Set<string>} names of files */
export const photos = new Set();
/** Whether the phone is so full that entries go into the room that was kept free for them. */
export const space = { low: false };
/** @type {{ pack: Pack | null }} */
export const held = { pack: null };

/** @param {string} deed @param {Record<string, unknown>} [given] @returns {Promise<any>} */
function ask(deed, given = {}) {
  return new Promise((resolve, reject) => {
    waiting.set(++asked, { resolve, reject });
    worker.postMessage({ number: asked, deed, ...given });
  });
}

/** @param {any} row */
function remember(row) {
  if (row.id) entries.set(row.id, row);
  for (const answer of row.answers ?? []) answers.set(answer.id, answer);
}

/** Opens the journal and reads what there is. @param {string} address of the worker @param {() => void} onChange */
export async function open(address, onChange) {
  changed = onChange;
  worker = new Worker(address, { type: "module" });
  worker.onmessage = ({ data }) => {
    const asker = waiting.get(data.number);
    waiting.delete(data.number);
    space.low = data.low;
    if (data.fault) asker?.reject(new DOMException("", data.fault));
    else asker?.resolve(data.answer);
  };
  others = new BroadcastChannel("barn");
  others.onmessage = ({ data }) => {
    if (data.pack) held.pack = data.pack;
    else remember(data);
    changed();
  };
  if (localStorage.getItem("along") === "ending") localStorage.removeItem("along");
  const kept = await ask("open", { name: `rows-${page}` });
  held.pack = kept.pack?.version === PACK_VERSION ? kept.pack : null;
  for (const name of kept.photos) photos.add(name);
  for (const rows of Object.values(kept.rows)) rows.forEach(remember);
  await dropFinished(kept.rows);
  if (held.pack && Date.now() > held.pack.ends) await putAway();
  void navigator.storage.persist?.();
}

/** Files of earlier pages go when all in them is answered and no visit in them is of a day that is held. @param {Record<string, any[]>} files */
async function dropFinished(files) {
  const days = held.pack?.days ?? [];
  const here = new Set(days.flatMap((day) => Object.keys(day.visits)));
  const isOver = (/** @type {any} */ row) => !row.id || (isAnswered(row) && !here.has(String(row.visit)));
  const over = Object.keys(files).filter((name) => files[name].every(isOver));
  await ask("drop", { names: over });
}

/** @param {Entry} entry */
export const isAnswered = (entry) => entry.local || answers.has(entry.id);

/** Resolves when the row is on the disk: then, and only then, it may be called kept. @param {any} row */
export async function append(row) {
  await ask("append", { row });
  remember(row);
  others.postMessage(row);
  changed();
}

/** Not while somebody signs out. @param {Pack} pack */
export async function keepPack(pack) {
  const name = `pack-${uuid7()}`;
  const isKept = await navigator.locks.request("barn-pack", async () => {
    if (localStorage.getItem("along") === "ending") return false;
    await ask("keep", { name, row: pack });
    localStorage.setItem("along", "yes");
    return true;
  });
  if (!isKept) return;
  held.pack = pack;
  others.postMessage({ pack });
  await ask("dropAll", { beginning: "pack-", but: name });
  changed();
}

/** The day is put away: signed out, removed, or too old. What was not sent stays. */
export async function putAway() {
  held.pack = null;
  await ask("dropAll", { beginning: "pack-" });
  changed();
}

/** @param {Entry} entry */
export async function keepPhoto(entry) {
  const name = `photo-${entry.id}`;
  await ask("keep", { name, row: entry });
  photos.add(name);
  changed();
}

/** @param {string} name @returns {Promise<Entry | undefined>} */
export const lookAt = (name) => ask("look", { name });

/** @param {string} name */
export async function dropPhoto(name) {
  await ask("drop", { names: [name] });
  photos.delete(name);
  changed();
}

/** Entries that the office has not answered, the oldest first. @returns {Entry[]} */
export function unsent() {
  return [...entries.values()].filter((entry) => !isAnswered(entry)).sort((a, b) => (a.id < b.id ? -1 : 1));
}
