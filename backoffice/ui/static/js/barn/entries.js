// @ts-check
// An entry: what was noted, when by this phone's clock, by whom. And what a visit's entries add up to.

/** @typedef {{ id: string, by: number, visit: number, at: number, offset: number, kind: string, values: any, local?: boolean }} Entry */
/** @typedef {{ area: string, goal: number, spent: number, since: number | null }} Timer */

let lastTime = 0;
let lastCount = 0;

/** UUID version 7, RFC 9562 section 5.7: 48 bits of milliseconds, then a counter (method 1 of 6.2), then chance. */
export function uuid7(now = Date.now()) {
  if (now > lastTime) {
    lastTime = now;
    lastCount = Math.floor(Math.random() * 0x400);
  } else if (++lastCount > 0xfff) {
    lastTime++;
    lastCount = 0;
  }
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let k = 0; k < 6; k++) bytes[k] = Math.floor(lastTime / 2 ** (8 * (5 - k))) & 0xff;
  bytes[6] = 0x70 | (lastCount >> 8);
  bytes[7] = lastCount & 0xff;
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

export const ARRIVAL = /** @type {const} */ ([
  ["no_stop_sign", "No stop sign seen"],
  ["is_dry", "Dry, no spray or liniment"],
  ["moves_soundly", "Moving as usual"],
  ["handler_present", "Handler present"],
  ["electronics_away", "Phones and keys 18 in (46 cm) away"],
]);

/**
 * What the entries of one visit say, put together in their order.
 * @param {number} visit @param {Iterable<Entry>} entries
 */
export function sheetOf(visit, entries) {
  const sheet = {
    arrival: /** @type {Record<string, boolean>} */ ({}),
    areas: /** @type {Map<string, Area>} */ (new Map()),
    how: /** @type {Record<string, any>} */ ({}),
    timer: /** @type {Timer | null} */ (null),
    done: /** @type {Entry | null} */ (null),
    couldNot: /** @type {Entry | null} */ (null),
    stopped: /** @type {Entry | null} */ (null),
    next: /** @type {Entry | null} */ (null),
    signed: /** @type {number[]} */ ([]),
    money: /** @type {Entry[]} */ ([]),
    told: /** @type {number[]} */ ([]),
    measures: /** @type {Entry[]} */ ([]),
    lists: /** @type {Record<string, string[]>} */ ({}),
    photos: 0,
  };
  const own = [...entries].filter((entry) => entry.visit === visit).sort((a, b) => (a.id < b.id ? -1 : 1));
  for (const entry of own) put(sheet, entry);
  return sheet;
}

/** @typedef {ReturnType<typeof sheetOf>} Sheet */

/** @type {Record<string, (sheet: Sheet, entry: Entry) => void>} */
const PUT = {
  arrival: (sheet, { values }) => void (sheet.arrival = { ...values }),
  how: (sheet, { values }) => void Object.assign(sheet.how, values),
  areas: (sheet, { values }) => {
    for (const area of values.areas) {
      if (area.minutes) sheet.areas.set(area.area, area);
      else sheet.areas.delete(area.area);
    }
  },
  timer: (sheet, { values }) => void (sheet.timer = values.area ? values : null),
  done: (sheet, entry) => void (sheet.done = entry),
  could_not: (sheet, entry) => void (sheet.couldNot = entry),
  stop: (sheet, entry) => void (sheet.stopped = entry),
  next: (sheet, entry) => void (sheet.next = entry),
  sign: (sheet, { values }) => void sheet.signed.push(values.form),
  money: (sheet, entry) => void sheet.money.push(entry),
  measure: (sheet, entry) => void sheet.measures.push(entry),
  told: (sheet, { values }) => void sheet.told.push(values.person),
  set_up: (sheet, { values }) => void (sheet.lists.set_up = values.done),
  cleaned: (sheet, { values }) => void (sheet.lists.cleaning = values.done),
  photo: (sheet) => void sheet.photos++,
};

/** @param {Sheet} sheet @param {Entry} entry */
function put(sheet, entry) {
  PUT[entry.kind]?.(sheet, entry);
}

/** Milliseconds that a timer has run, by its own timestamps. @param {Timer} timer @param {number} now */
export const ran = (timer, now) => timer.spent + (timer.since === null ? 0 : Math.max(0, now - timer.since));
