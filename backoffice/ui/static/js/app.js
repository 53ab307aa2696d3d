// Menus close when the page elsewhere is tapped or Escape is pressed; the page works without this.
const menus = () => document.querySelectorAll("details.menu[open]");

document.addEventListener("click", (event) => {
  for (const menu of menus()) if (!menu.contains(event.target)) menu.open = false;
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const menu of menus()) {
    menu.open = false;
    menu.querySelector("summary").focus();
  }
});

// After a form came back with errors, reading starts at the summary.
document.getElementById("error-summary")?.focus();

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});
