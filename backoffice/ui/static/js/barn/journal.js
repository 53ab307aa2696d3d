// @ts-check
// The worker that writes. One file a page: it is appended to and flushed before anybody is told "kept".
import { decode, encode } from "./rows.js";

const FOLDER = "barn";
/** @type {FileSystemSyncAccessHandle} */
let own;
/** @type {string} */
let ownName;
/** Room that is taken while there is some, and given to the entries when the phone is full. */
const RESERVE = "reserve";
const RESERVED = 1_000_000;
let low = false;

const folder = async () => (await navigator.storage.getDirectory()).getDirectoryHandle(FOLDER, { create: true });

/** @param {FileSystemSyncAccessHandle} handle @param {Uint8Array<ArrayBuffer>} bytes Written whole or not at all. */
function append(handle, bytes) {
  const end = handle.getSize();
  try {
    const written = handle.write(bytes, { at: end });
    if (written !== bytes.length) throw new DOMException("The storage is full.", "QuotaExceededError");
    handle.flush();
  } catch (fault) {
    handle.truncate(end);
    throw fault;
  }
}

async function reserve() {
  const handle = await (await (await folder()).getFileHandle(RESERVE, { create: true })).createSyncAccessHandle();
  try {
    if (handle.getSize() < RESERVED) append(handle, new Uint8Array(RESERVED));
  } catch {
    low = true;
  }
  handle.close();
}

/** @returns {Promise<boolean>} whether there was a reserve */
async function release() {
  low = true;
  return (await folder()).removeEntry(RESERVE).then(
    () => true,
    () => false,
  );
}

/** @returns {Promise<[string, FileSystemFileHandle][]>} by name, which is by time */
async function files() {
  const found = [];
  for await (const [name, handle] of await folder()) if (handle.kind === "file") found.push([name, handle]);
  return /** @type {[string, FileSystemFileHandle][]} */ (found.sort((a, b) => (a[0] < b[0] ? -1 : 1)));
}

/** @param {FileSystemFileHandle} handle */
const read = async (handle) => decode(await (await handle.getFile()).arrayBuffer());

const deeds = {
  /** The rows of every page so far, the newest whole day, and which photos wait. @param {{ name: string }} given */
  async open({ name }) {
    const kept = { rows: /** @type {Record<string, any[]>} */ ({}), pack: null, photos: /** @type {string[]} */ ([]) };
    for (const [file, handle] of await files()) {
      if (file.startsWith("rows-")) kept.rows[file] = await read(handle);
      else if (file.startsWith("pack-")) kept.pack = (await read(handle))[0] ?? kept.pack;
      else if (file.startsWith("photo-")) kept.photos.push(file);
    }
    ownName = name;
    own = await (await (await folder()).getFileHandle(name, { create: true })).createSyncAccessHandle();
    await reserve().catch(() => {}); // another page of this phone looks after it
    return kept;
  },
  /** @param {{ row: unknown }} given */
  async append({ row }) {
    const bytes = encode(row);
    try {
      append(own, bytes);
    } catch (fault) {
      if (!(await release())) throw fault;
      append(own, bytes);
    }
  },
  /** A file of its own: written whole, flushed and closed. @param {{ name: string, row: unknown }} given */
  async keep({ name, row }) {
    const place = await folder();
    const handle = await (await place.getFileHandle(name, { create: true })).createSyncAccessHandle();
    try {
      append(handle, encode(row));
    } catch (fault) {
      handle.close();
      await place.removeEntry(name);
      throw fault;
    }
    handle.close();
  },
  /** @param {{ name: string }} given */
  async look({ name }) {
    return (await read(await (await folder()).getFileHandle(name)))[0];
  },
  /** Files that are not needed any more; one that another page holds open stays. @param {{ names: string[] }} given */
  async drop({ names }) {
    const place = await folder();
    for (const name of names) if (name !== ownName) await place.removeEntry(name).catch(() => {});
  },
  /** Every file whose name begins so. @param {{ beginning: string, but?: string }} given */
  async dropAll({ beginning, but }) {
    const names = (await files()).map(([name]) => name);
    await deeds.drop({ names: names.filter((name) => name.startsWith(beginning) && name !== but) });
  },
};

// one after another, in the order in which they were asked for
let last = Promise.resolve();
addEventListener("message", (event) => {
  const { number, deed, ...given } = event.data;
  last = last.then(async () => {
    try {
      const answer = await deeds[/** @type {keyof typeof deeds} */ (deed)](given);
      postMessage({ number, answer, low });
    } catch (fault) {
      postMessage({ number, fault: fault instanceof Error ? fault.name : "Error", low });
    }
  });
});
