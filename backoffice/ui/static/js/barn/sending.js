// @ts-check
// Brings entries to the office: in their order, in batches, one page of this phone at a time, each until it is answered.
import * as store from "./store.js";

/** @typedef {import("./entries.js").Entry} Entry */
/** @typedef {"quiet" | "away" | "sign in" | "removed" | "trouble"} Word */

const MOST = 50;
const MOST_BYTES = 256_000;
const PATIENCE = 30_000;
const LONGEST_WAIT = 300_000;

/** How it stands: `quiet` all is well, `away` no signal, else what a person can do. @type {{ word: Word, sentence: string, person: number | null }} */
export const status = { word: "quiet", sentence: "", person: null };
/** @type {{ hello: string, pack: string, entries: string }} */
let addresses;
/** @type {() => void} */
let changed;
let token = "";
let failures = 0;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let timer;
/** Entries that the office answered with an error by themselves: left aside until the next start. @type {Set<string>} */
const hurting = new Set();

/** Each person who signs in here has a key of this phone; the last one's until it is known who is signed in. */
let phone = localStorage.getItem("phone") ?? "";

/** @param {number} person */
function knowPerson(person) {
  const isOther = status.person !== person;
  status.person = person;
  phone = localStorage.getItem(`phone-${person}`) ?? crypto.randomUUID();
  localStorage.setItem(`phone-${person}`, phone);
  localStorage.setItem("phone", phone);
  if (isOther) changed();
}

/** The office's clock less this phone's, as last known. */
export const offset = () => Number(localStorage.getItem("offset") ?? 0);

class SignIn extends Error {}
class Removed extends Error {}

/** @param {typeof addresses} where @param {() => void} onChange */
export function start(where, onChange) {
  [addresses, changed] = [where, onChange];
  addEventListener("online", soon);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && soon());
  soon();
}

/** At once, whatever the waiting was. */
export function soon() {
  failures = 0;
  again(50);
}

/** @param {number} wait */
function again(wait) {
  clearTimeout(timer);
  timer = setTimeout(() => void round(), wait);
}

async function round() {
  await navigator.locks.request("barn-sender", { ifAvailable: true }, async (lock) => {
    if (!lock) return again(5_000);
    try {
      await greet();
      await sendRows();
      await sendPhotos();
      say("quiet");
      failures = 0;
    } catch (fault) {
      if (fault instanceof SignIn) say("sign in", "Sign in to send what waits.");
      else if (fault instanceof Removed) say("removed", fault.message);
      else if (fault instanceof TypeError || fault instanceof DOMException) say("away");
      else say("trouble", "The office did not take what was sent. It is kept here and tried again.");
      failures++;
    }
    const wait = Math.min(LONGEST_WAIT, 2_000 * 2 ** failures) * (0.5 + Math.random() / 2);
    if (failures || store.unsent().length) again(wait);
  });
}

/** @param {Word} word */
function say(word, sentence = "") {
  if (status.word === word && status.sentence === sentence) return;
  Object.assign(status, { word, sentence });
  changed();
}

/** @param {string} address @param {RequestInit} [more] */
async function ask(address, more = {}) {
  const headers = { "X-Phone": phone, ...more.headers };
  const answer = await fetch(address, { ...more, headers, redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(PATIENCE) });
  if (answer.type === "opaqueredirect") throw new SignIn();
  if (answer.status === 403) {
    const told = await answer.json().catch(() => ({}));
    if (told.removed) await putAwayFor(told.sentence);
  }
  return answer;
}

/** @param {string} sentence why this phone may not hold a day */
async function putAwayFor(sentence) {
  await store.putAway();
  throw new Removed(sentence);
}

/** Who is signed in, a fresh token, and the time at the office. */
async function greet() {
  const answer = await ask(addresses.hello);
  if (!answer.ok) throw new Error(String(answer.status));
  const hello = await answer.json();
  token = hello.token;
  if (hello.removed) await putAwayFor(hello.removed);
  knowPerson(hello.person);
  localStorage.setItem("offset", String(hello.now - Date.now()));
  if (store.held.pack && store.held.pack.person.pk !== hello.person) await store.putAway();
}

async function sendRows() {
  for (;;) {
    const rows = store.unsent().filter((entry) => entry.by === status.person && !hurting.has(entry.id));
    if (!rows.length) break;
    await sendBatch(firstOf(rows));
  }
  if (hurting.size) {
    hurting.clear();
    throw new Error("some were not taken");
  }
}

/** @param {Entry[]} rows As many as fit in one batch, and always one. */
function firstOf(rows) {
  let bytes = 0;
  const end = rows.findIndex((row, n) => n === MOST || ((bytes += JSON.stringify(row).length) > MOST_BYTES && n > 0));
  return end < 0 ? rows : rows.slice(0, end);
}

/** @param {Entry[]} rows @returns {Promise<void>} Halved where it fails, until the one that hurts is alone. */
async function sendBatch(rows) {
  const answer = await post(rows);
  if (answer.ok) {
    const { answers } = await answer.json();
    await store.append({ answers });
  } else if (rows.length > 1) {
    const half = Math.ceil(rows.length / 2);
    await sendBatch(rows.slice(0, half));
    await sendBatch(rows.slice(half));
  } else {
    hurting.add(rows[0].id);
  }
}

/** @param {Entry[]} rows */
async function post(rows) {
  const send = () =>
    ask(addresses.entries, {
      method: "POST",
      headers: { "X-CSRFToken": token, "Content-Type": "application/json" },
      body: JSON.stringify({ now: Date.now(), entries: rows }),
    });
  const answer = await send();
  if (answer.status !== 403) return answer;
  await greet(); // a stale token: a fresh one, once
  return send();
}

/** Photos go after all entries, one at a time. */
async function sendPhotos() {
  for (const name of [...store.photos]) {
    const row = await store.lookAt(name);
    if (!row) await store.dropPhoto(name);
    else if (row.by === status.person) {
      const answer = await post([row]);
      if (!answer.ok) throw new Error(String(answer.status));
      await store.append({ answers: (await answer.json()).answers });
      await store.dropPhoto(name);
    }
  }
}

/** Takes today and tomorrow along. @returns {Promise<void>} */
export async function takeAlong() {
  await greet();
  const answer = await ask(addresses.pack);
  if (!answer.ok) throw new Error(String(answer.status));
  await store.keepPack({ ...(await answer.json()), taken: Date.now() });
}
