// Keys for those who use them; every page works without.
const typing = (element) => element.closest("input, textarea, select, [contenteditable]") !== null;

const places = { t: "/today", c: "/calls/new", n: "/numbers", s: "/catalogue", p: "/people", r: "/house-rules", h: "/happenings" };
let afterG = false;

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
  const key = event.key;
  if (afterG) {
    afterG = false;
    if (places[key] !== undefined && document.querySelector(`a[href="${places[key]}"]`) !== null) {
      event.preventDefault();
      location.assign(places[key]);
    }
    return;
  }
  if (key === "g") {
    afterG = true;
  } else if (key === "/") {
    const find = document.querySelector("[data-find]");
    if (find !== null) {
      event.preventDefault();
      find.focus();
    }
  } else if (key === "n") {
    document.querySelector("[data-new]")?.click();
  } else if (key === "ArrowDown" || key === "ArrowUp") {
    const lines = [...document.querySelectorAll("[data-line]")];
    if (lines.length === 0) return;
    const at = lines.indexOf(document.activeElement);
    const next = key === "ArrowDown" ? at + 1 : Math.max(at - 1, 0);
    if (lines[next] !== undefined) {
      event.preventDefault();
      lines[next].focus();
    }
  }
});
