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

// Ctrl K (⌘ K): to the search, from any page.
document.addEventListener("keydown", (event) => {
  const search = document.querySelector("a[data-search]");
  if (event.key !== "k" || !(event.ctrlKey || event.metaKey) || !search) return;
  event.preventDefault();
  location.assign(search.href);
});

// After a form came back with errors, reading starts at the summary.
document.getElementById("error-summary")?.focus();

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

// Signing out puts the day away that this device took along, and what is just being taken (the lock of `keepPack`);
// entries that were not sent stay until somebody signs in.
document.addEventListener("submit", async (event) => {
  if (!event.target.matches("[data-sign-out]")) return;
  event.preventDefault();
  localStorage.setItem("along", "ending");
  await navigator.locks?.request("barn-pack", async () => {
    try {
      const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle("barn");
      for await (const name of folder.keys()) if (name.startsWith("pack-")) await folder.removeEntry(name);
    } catch {
      // nothing was taken along
    }
  });
  event.target.submit();
});
