// @ts-check
// The drawing of the horse: a tap, Enter or Space on a place works it or takes it back. Both sides show the same area.

/** @param {Set<string>} worked @param {Set<string>} careful names with a caution @param {(area: string) => void} toggle @returns {Node} */
export function drawing(worked, careful, toggle) {
  const whole = /** @type {HTMLTemplateElement} */ (document.getElementById("horse-drawing")).content.cloneNode(true);
  for (const place of /** @type {DocumentFragment} */ (whole).querySelectorAll("[data-area]")) {
    const area = String(place.getAttribute("data-area"));
    place.setAttribute("aria-checked", String(worked.has(area)));
    place.classList.toggle("careful", careful.has(area));
    place.id = `draw-${place.getAttribute("data-side")}-${area.replace(/\W+/g, "-")}`;
    place.addEventListener("click", () => toggle(area));
    place.addEventListener("keydown", (event) => {
      const { key } = /** @type {KeyboardEvent} */ (event);
      if (key !== "Enter" && key !== " ") return;
      event.preventDefault();
      toggle(area);
    });
  }
  return whole;
}
