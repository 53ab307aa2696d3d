// @ts-check
// Before driving on: the next visit, money taken, a photo; and when the day runs late.
import { barn, state } from "./barn.js";
import { button, clockOf, dayOf, field, h, icon, shell, valueOf } from "./dom.js";
import { isOver } from "./stop.js";


/** @param {string} horse @param {number} pk @param {string} title @param {...any} parts */
const page = (horse, pk, title, ...parts) => h("section", h("p.kicker", h("a", { href: `#/visit/${pk}` }, horse)), h("h1", { tabindex: -1 }, title), ...parts);

/** @param {string} day */
const said = (day) => dayOf(`${day}T12:00`);

/** @param {number} pk */
export function nextPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  /** @param {{ day: string, service?: number, reason?: string }} values */
  const keep = async (values) => {
    if (await barn.note("next", pk, values)) location.hash = `#/stop/${barn.stopOf(pk).key}`;
  };
  const due = visit.next?.day;
  const service = h("select", barn.pack.services.map(([key, words]) => h("option", { value: key, selected: key === visit.service_pk }, words)));
  return page(
    visit.horse,
    pk,
    "The next visit",
    visit.ahead && h("a.button.primary.wide", { href: `#/stop/${barn.stopOf(pk).key}`, id: "ahead" }, `It stands: ${visit.ahead}`),
    due && !visit.ahead && button(`Keep ${said(due)}, as the plan goes`, () => keep({ day: due, service: visit.service_pk }), "primary wide", { id: "keep-next" }),
    h("details.list", { id: "another-day", open: !due && !visit.ahead }, h("summary", "Another day"), field("next-day", "Day", h("input", { type: "date" })), field("next-service", "Service", service), button("Keep this day", () => valueOf("next-day") && keep({ day: valueOf("next-day"), service: Number(valueOf("next-service")) }), "", { id: "keep-day" })),
    h("details.list", { id: "no-date" }, h("summary", "No date yet"), field("next-reason", "Why there is none yet", h("input", { type: "text", maxlength: 300 }), "The horse goes on the call list."), button("Put on the call list", () => valueOf("next-reason") && keep({ day: "", reason: valueOf("next-reason") }), "", { id: "keep-reason" })),
  );
}

/** How many slips this phone gave out: those that the office has, and those still here. */
const slipsGiven = () => Math.max(barn.pack.slips, Number(localStorage.getItem(`slips-${barn.pack.phone}`) ?? 0));

/** @param {number} pk */
export function moneyPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  const { currency } = barn.pack.business;
  /** @param {string} amount */
  const money = (amount) => new Intl.NumberFormat([], { style: "currency", currency }).format(Number(amount));
  /** @param {number} person */
  const from = (person) => visit.people.find(([key]) => key === person)?.[1] ?? "";
  const slips = barn.sheet(pk).money.map(({ at, values }) => h("li.slip", h("strong", money(values.amount)), ` ${values.method === "cash" ? "cash" : shell.check}${values.words ? ` ${values.words}` : ""} from ${from(values.person)}, ${clockOf(at)}, taken by ${barn.pack.person.name}. Slip ${values.slip}.`));
  /** @param {string} method */
  const keep = async (method) => {
    const amount = valueOf("amount").replace(",", ".");
    if (!(Number(amount) > 0)) document.getElementById("amount")?.focus();
    else if (await barn.note("money", pk, () => ({ person: Number(valueOf("from")), amount, method, words: valueOf("money-words"), slip: `P${barn.pack.phone}-${String(slipsGiven() + 1).padStart(4, "0")}` }))) {
      localStorage.setItem(`slips-${barn.pack.phone}`, String(slipsGiven() + 1));
      for (const id of ["amount", "money-words"]) /** @type {HTMLInputElement} */ (document.getElementById(id)).value = "";
      state.show();
    }
  };
  return page(
    visit.horse,
    pk,
    "Money taken",
    slips.length > 0 && h("ul", slips, h("li.soft", "Show the slip; the receipt with its number comes from the office.")),
    field("from", "From", h("select", visit.people.map(([key, name, words]) => h("option", { value: key }, `${name}, ${words.toLowerCase()}`)))),
    field("amount", `Amount, ${currency}`, h("input", { type: "text", inputmode: "decimal", maxlength: 12 })),
    field("money-words", `Number of the ${shell.check}, or a word`, h("input", { type: "text", maxlength: 120 })),
    button("Taken in cash", () => keep("cash"), "primary wide", { id: "keep-cash" }),
    button(`Taken by ${shell.check}`, () => keep("check"), "wide", { id: "keep-check" }),
  );
}

/** @param {number} pk */
export function photoPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  const says = h("p", { role: "status" });
  /** @param {Event} event */
  const take = async (event) => {
    const file = /** @type {HTMLInputElement} */ (event.target).files?.[0];
    if (!file) return;
    says.textContent = "Making it smaller…";
    try {
      const jpeg = await shrunk(file);
      if (await barn.note("photo", pk, { jpeg, words: valueOf("photo-words") })) location.hash = `#/visit/${pk}`;
    } catch {
      says.textContent = "This is not a photo that the phone can read. Take another.";
    }
  };
  const sharing = visit.photos === true ? "The owner lets photos be shared." : visit.photos === false ? "The owner does not want photos shared." : "Whether photos may be shared was not asked.";
  return page(visit.horse, pk, "A photo", field("photo-words", "What it shows", h("input", { type: "text", maxlength: 200 })), field("photo", "Photo", h("input", { type: "file", accept: "image/*", capture: "environment", onchange: take })), says, h("p.soft", `It is kept privately. ${sharing}`));
}

/** At most 1600 pixels across, as JPEG in base64; where it was taken does not stay in it. @param {Blob} file */
async function shrunk(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, 1600 / Math.max(picture.width, picture.height));
  const canvas = new OffscreenCanvas(Math.round(picture.width * scale), Math.round(picture.height * scale));
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const bytes = new Uint8Array(await (await canvas.convertToBlob({ type: "image/jpeg", quality: 0.8 })).arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}

export function latePage() {
  const today = barn.pack.days[0];
  const left = today.stops.filter((stop) => stop.visits.some((pk) => !isOver(pk)));
  const minutes = Number(new URLSearchParams(location.search).get("late") ?? localStorage.getItem("late") ?? 20);
  const people = new Map();
  for (const stop of left)
    for (const pk of stop.visits) {
      const visit = barn.visit(pk);
      const person = visit.people.find(([, , words]) => words === "Handler") ?? visit.people[0];
      if (person && !isOver(pk)) people.set(person[0], { person, stop, pk, horses: [...(people.get(person[0])?.horses ?? []), visit.horse] });
    }
  /** @param {number} n */
  const choose = (n) => {
    localStorage.setItem("late", String(n));
    dispatchEvent(new HashChangeEvent("hashchange"));
  };
  const lines = [...people.values()].map(({ person: [key, name, , phone], stop, pk, horses }) => {
    const text = `We are about ${minutes} minutes late today: at ${stop.barn} after ${stop.starts}, for ${horses.join(", ")}. ${barn.pack.business.name}`;
    const told = barn.sheet(pk).told.includes(key);
    return h("li", h("strong", name), h("span.soft", text), h("span.buttons", phone ? h("a.button", { href: `sms:${phone.replace(/[^\d+]/g, "")}?body=${encodeURIComponent(text)}` }, icon("phone"), "Text") : h("span.soft", "No number"), told ? h("span.chip.ready", icon("tick"), "Told") : button("Told", () => void barn.note("told", pk, { person: key, what: "late" }), "quiet")));
  });
  return h("section", h("p.kicker", h("a", { href: "#/" }, "The day")), h("h1", { tabindex: -1 }, "Running late"), h("p.choices.row", [10, 20, 30, 45, 60].map((n) => button(`${n} min`, () => choose(n), "", { "aria-pressed": String(n === minutes), id: `late-${n}` }))), h("ul.told", lines), h("p.soft", "Each message opens in the phone’s own app; mark it told when it is sent. With a signal, the round page gives each stop its own new time."));
}
