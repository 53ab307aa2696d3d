// @ts-check
// On Today, with a signal: the day is taken along by itself, on a phone that was in the barn before.
import * as sending from "./sending.js";
import * as store from "./store.js";

const { journal, hello, pack, entries } = /** @type {HTMLElement} */ (document.querySelector("[data-along]")).dataset;
if (localStorage.getItem("along")) {
  await store.open(String(journal), () => {});
  sending.start({ hello: String(hello), pack: String(pack), entries: String(entries) }, () => {});
  await sending.takeAlong().catch(() => {});
}
