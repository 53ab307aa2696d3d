// @ts-check
// A pad to sign on with a finger, a pen or a mouse. It writes the strokes into its hidden input as JSON:
// a list of strokes, each a list of [x, y], where x runs from 0 to 1000 across the pad and y has the same scale (0 to 400).
const ACROSS = 1000;
const DOWN = 400;

/** @typedef {[number, number]} Point */

/** @param {Element} box */
export function pad(box) {
  const canvas = /** @type {HTMLCanvasElement} */ (box.querySelector("canvas"));
  const store = /** @type {HTMLInputElement} */ (box.querySelector("input[type=hidden]"));
  const said = /** @type {HTMLElement} */ (box.querySelector("[data-said]"));
  let strokes = stored(store);
  /** @type {Point[] | null} */
  let current = null;

  /** @param {PointerEvent} event @returns {Point} */
  function point(event) {
    const edge = canvas.getBoundingClientRect();
    const x = ((event.clientX - edge.left) / edge.width) * ACROSS;
    const y = ((event.clientY - edge.top) / edge.height) * DOWN;
    return [Math.round(Math.min(ACROSS, Math.max(0, x))), Math.round(Math.min(DOWN, Math.max(0, y)))];
  }

  function draw() {
    const edge = canvas.getBoundingClientRect();
    const dense = window.devicePixelRatio || 1;
    canvas.width = Math.round(edge.width * dense);
    canvas.height = Math.round(edge.height * dense);
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    pen.scale(canvas.width / ACROSS, canvas.height / DOWN);
    pen.lineWidth = 7;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    pen.strokeStyle = getComputedStyle(canvas).color;
    for (const stroke of strokes) {
      pen.beginPath();
      pen.moveTo(...stroke[0]);
      for (const next of stroke.length > 1 ? stroke.slice(1) : stroke) pen.lineTo(...next);
      pen.stroke();
    }
  }

  function keep() {
    store.value = strokes.length ? JSON.stringify(strokes) : "";
    said.textContent = strokes.length ? "Signed. Clear it to sign again." : "Nothing drawn yet.";
    draw();
  }

  canvas.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    current = [point(event)];
    strokes.push(current);
    draw();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!current) return;
    for (const part of event.getCoalescedEvents?.() ?? [event]) {
      const next = point(part);
      const last = current[current.length - 1];
      if (Math.abs(next[0] - last[0]) + Math.abs(next[1] - last[1]) > 3) current.push(next);
    }
    draw();
  });
  for (const end of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(end, () => {
      if (!current) return;
      current = null;
      keep();
    });
  }
  box.querySelector("[data-clear]")?.addEventListener("click", () => {
    strokes = [];
    keep();
  });
  window.addEventListener("resize", draw);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  box.querySelector("[data-pad]")?.toggleAttribute("hidden", false);
  box.querySelector("[data-no-script]")?.toggleAttribute("hidden", true);
  keep();
}

/** @param {HTMLInputElement} input @returns {Point[][]} */
function stored(input) {
  try {
    const found = JSON.parse(input.value || "[]");
    return Array.isArray(found) ? found.filter((/** @type {unknown} */ stroke) => Array.isArray(stroke) && stroke.length) : [];
  } catch {
    return [];
  }
}

for (const box of document.querySelectorAll("[data-signature]")) pad(box);
