// @ts-check
// One value on one named scale. What it means is not said here.
import { barn } from "./barn.js";
import { button, clockOf, field, h, valueOf } from "./dom.js";

/** @param {number} pk */
export function measuresPage(pk) {
  const visit = barn.visit(pk);
  if (!visit) return null;
  const taken = barn.sheet(pk).measures.map(({ at, values }) => h("li", h("strong", titleOf(values.scale)), `: ${said(values)}, ${clockOf(at)}`));
  return h("section", h("p.kicker", h("a", { href: `#/visit/${pk}` }, visit.horse)), h("h1", { tabindex: -1 }, "Measure"),
    taken.length > 0 && h("ul.facts", taken),
    h("div.choices", barn.pack.scales.map((scale) => h("a.button.wide", { href: `#/visit/${pk}/measure/${scale.name}` }, scale.title))),
    h("p.soft", "A number is a record, not a verdict."),
  );
}

/** @param {number} pk @param {string} name */
export function measurePage(pk, name) {
  const visit = barn.visit(pk);
  const scale = barn.pack.scales.find((each) => each.name === name);
  if (!visit || !scale) return null;
  const fault = h("p.notice.hold", { role: "alert", hidden: true });
  const number = () => h("input", { type: "text", inputmode: "decimal", maxlength: 7 });
  const tape = name === "tape";
  const length = barn.pack.business.inches ? "inches" : "cm";
  /** @param {string} id */
  const read = (id) => Number(valueOf(id).replace(",", "."));
  const keep = async () => {
    const values = tape ? { girth: read("girth"), length: read("length") } : { number: read("number") };
    const given_by = valueOf("given-by");
    const wrong = Object.values(values).some((value) => !(value > 0 || (value === 0 && scale.low === 0))) || (!tape && !fits(scale, read("number")));
    fault.hidden = !wrong && given_by !== "";
    fault.textContent = wrong ? `${scale.title}: from ${scale.low} to ${scale.high}, in steps of ${scale.step}.` : "Say who gave the value.";
    if (!fault.hidden) fault.scrollIntoView({ block: "center" });
    else if (await barn.note("measure", pk, { scale: name, ...values, inches: barn.pack.business.inches, given_by })) location.hash = `#/visit/${pk}/measures`;
  };
  return h("section", h("p.kicker", h("a", { href: `#/visit/${pk}/measures` }, visit.horse)), h("h1", { tabindex: -1 }, scale.title),
    h("p.soft", scale.source),
    fault,
    tape ? [field("girth", `Girth, ${length}`, number()), field("length", `Length, ${length}`, number(), "Point of the shoulder to point of the buttock.")] : field("number", scale.unit ? `Value, ${scale.unit}` : "Value", number()),
    field("given-by", name === "lameness" ? "The vet who graded it" : "Who measured", h("input", { type: "text", maxlength: 120, value: scale.whose ? "" : barn.pack.person.name })),
    button("Keep it", keep, "primary wide", { id: "keep-measure" }),
  );
}

/** @param {Scale} scale @param {number} value */
const fits = (scale, value) => value >= scale.low && value <= scale.high && Math.abs(Math.round((value - scale.low) / scale.step) * scale.step - (value - scale.low)) < 1e-9;

/** @param {string} kind */
const titleOf = (kind) => barn.pack.scales.find((each) => each.name === kind)?.title ?? kind;

/** @param {any} values */
const said = (values) => (values.girth ? `girth ${values.girth}, length ${values.length} ${values.inches ? "in" : "cm"}` : values.number);
