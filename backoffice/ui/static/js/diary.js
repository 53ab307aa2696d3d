// The diary by drag and by keyboard. Either way leads to the page that shows the drive before anything is saved;
// without this script the Move button of a visit leads there too.
const days = [...document.querySelectorAll("[data-day]")];
let dragged = null;

const goTo = (visit, day) => location.assign(`${visit.dataset.move}?day=${day}`);

const forget = () => {
  dragged = null;
  for (const day of days) {
    day.classList.remove("is-over");
    day.querySelector(".extra")?.remove();
  }
};

// While a visit is held, each day says what it would add to the drive.
const sayCosts = async (visit) => {
  const answer = await fetch(`${visit.dataset.move}days/`, { headers: { Accept: "application/json" } });
  if (!answer.ok || dragged !== visit) return;
  const { days: costs } = await answer.json();
  for (const day of days) {
    const cost = costs[day.dataset.day];
    if (!cost) continue;
    const words = document.createElement("p");
    words.className = "extra";
    words.textContent = cost;
    day.querySelector("header").append(words);
  }
};

for (const visit of document.querySelectorAll("[data-move]")) {
  visit.draggable = true;
  visit.addEventListener("dragstart", (event) => {
    dragged = visit;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", visit.textContent.trim());
    sayCosts(visit);
  });
  visit.addEventListener("dragend", forget);
  visit.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!event.altKey || !step) return;
    const here = days.findIndex((day) => day.contains(visit));
    const there = days[here + step];
    if (!there) return;
    event.preventDefault();
    goTo(visit, there.dataset.day);
  });
}

for (const day of days) {
  day.addEventListener("dragover", (event) => {
    if (!dragged || day.contains(dragged)) return;
    event.preventDefault();
    day.classList.add("is-over");
  });
  day.addEventListener("dragleave", (event) => {
    if (!day.contains(event.relatedTarget)) day.classList.remove("is-over");
  });
  day.addEventListener("drop", (event) => {
    event.preventDefault();
    const visit = dragged;
    forget();
    if (visit) goTo(visit, day.dataset.day);
  });
}
