// The phases of an editor: moved up and down, or taken out, by buttons. Without this script their place is a number
// and "leave out" a box to tick.
const list = document.getElementById("phases");
const rows = () => [...list.querySelectorAll("details.phase")];
const used = () => rows().filter((row) => !row.classList.contains("spare") && !row.hidden);
const field = (row, name) => row.querySelector(`[name$="-${name}"]`);

function number() {
  used().forEach((row, place) => {
    field(row, "ORDER").value = place + 1;
    row.querySelector("[data-number]").textContent = place + 1;
  });
  for (const row of used()) {
    row.querySelector("[data-move='-1']").disabled = row === used()[0];
    row.querySelector("[data-move='1']").disabled = row === used().at(-1);
  }
}

function button(label, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button quiet";
  made.textContent = label;
  made.addEventListener("click", () => {
    act();
    number();
    list.dispatchEvent(new Event("redraw", { bubbles: true }));
  });
  return made;
}

function move(row, by) {
  const all = used();
  const other = all[all.indexOf(row) + by];
  if (other) (by < 0 ? other.before(row) : other.after(row));
}

function takeOut(row) {
  field(row, "DELETE").checked = true;
  row.hidden = true;
}

for (const row of rows()) {
  for (const name of ["ORDER", "DELETE"]) field(row, name).closest(".field").hidden = true;
  const up = button("Earlier", () => move(row, -1));
  const down = button("Later", () => move(row, 1));
  up.dataset.move = "-1";
  down.dataset.move = "1";
  const buttons = document.createElement("div");
  buttons.className = "buttons";
  buttons.append(up, down, button("Take out", () => takeOut(row)));
  row.append(buttons);
  row.addEventListener("input", () => {
    row.classList.remove("spare");
    number();
  });
}
number();

// Once all phases are drawn, each row says what it holds, also when it is folded.
document.body.addEventListener("htmx:afterSwap", () => {
  const said = [...document.querySelectorAll("#drawing [data-said]")].map((words) => words.textContent);
  if (said.length !== used().length) return;
  used().forEach((row, place) => {
    row.querySelector("[data-words]").textContent = `, ${field(row, "days").value} days: ${said[place]}`;
  });
});
