// What happens is shown as it happens: one stream for all tabs of a browser tells what changed, and the page is read anew.
const main = document.querySelector("main[data-live]");
const notice = document.querySelector("[data-live-notice]");

const STREAM = "/v1/events?wait=600";
const SETTLES = 400; // ms: one deed makes several changes
const AWAY_AFTER = 8000; // ms without the office, before it is said
const KEPT_FOR = 300000; // ms: an older place is not gone on from
const PLACE = "ovenwright-live-place";

let away = 0;
let settling = 0;

const concerns = (change) =>
  main.dataset.live === "all" ||
  [change.subject_id, change.work_order_id, change.appliance_id, change.site_id].includes(main.dataset.live);

// Somebody types, or has typed what is not sent yet.
const isInUse = () => {
  if (main.querySelector(".refusal, details[open] form") !== null) return true;
  if (main.contains(document.activeElement) && document.activeElement.closest("form") !== null) return true;
  return [...main.querySelectorAll("input, textarea, select")].some((field) =>
    field.type === "checkbox" || field.type === "radio"
      ? field.checked !== field.defaultChecked
      : field.tagName === "SELECT"
        ? [...field.options].some((option) => option.selected !== option.defaultSelected) && field.selectedIndex > 0
        : field.type !== "hidden" && field.value !== field.defaultValue,
  );
};

const say = (words, act) => {
  notice.replaceChildren();
  notice.hidden = words === "";
  if (words === "") return;
  notice.append(words);
  if (act === undefined) return;
  const button = document.createElement("button");
  button.className = "plain";
  button.textContent = notice.dataset.show;
  button.addEventListener("click", act);
  notice.append(" ", button);
};

const again = () => location.assign(main.dataset.liveAt);

const changed = () => {
  clearTimeout(settling);
  settling = setTimeout(() => (isInUse() ? say(notice.dataset.changed, again) : read()), SETTLES);
};

// A policy without any HTML from text still lets a document be read as one.
const read = () => {
  const request = new XMLHttpRequest();
  request.open("GET", main.dataset.liveAt);
  request.responseType = "document";
  request.addEventListener("load", () => {
    const fresh = request.response?.querySelector("main[data-live]");
    if (request.status !== 200 || !fresh) say(notice.dataset.changed, again);
    else if (isInUse()) changed();
    else lay(fresh);
  });
  request.addEventListener("error", () => say(notice.dataset.changed, again));
  request.send();
};

const lines = (root) => new Map([...root.querySelectorAll("[data-line]")].map((line) => [line.getAttribute("href"), line.closest("tr") ?? line]));

// The new page in the place of the old one: open parts stay open, the focus stays, and lines that changed are marked.
const lay = (fresh) => {
  const before = new Map([...lines(main)].map(([href, line]) => [href, line.textContent]));
  const focused = main.contains(document.activeElement) ? document.activeElement : null;
  const href = focused?.getAttribute("href");
  const open = [...main.querySelectorAll("details[open][id]")].map((part) => part.id);
  main.replaceChildren(...fresh.childNodes);
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  if (focused !== null) {
    const same = focused.id !== "" ? document.getElementById(focused.id) : href && main.querySelector(`a[href="${CSS.escape(href)}"]`);
    (same || main).focus({ preventScroll: true });
  }
  const minute = new Date().toTimeString().slice(0, 5);
  let count = 0;
  for (const [href, line] of lines(main)) {
    if (before.get(href) === line.textContent) continue;
    line.classList.add("fresh");
    (line.querySelector(".stands") ?? line).dataset.fresh = minute;
    count += 1;
  }
  if (count > 0) say(notice.dataset.fresh.replace("#", String(count)));
};

const keepPlace = (id) => {
  try {
    localStorage.setItem(PLACE, JSON.stringify({ id, at: Date.now() }));
  } catch {
    // Without it a page begins where the feed ends.
  }
};

const keptPlace = () => {
  try {
    const { id, at } = JSON.parse(localStorage.getItem(PLACE));
    return Date.now() - at < KEPT_FOR ? id : null;
  } catch {
    return null;
  }
};

const others = "BroadcastChannel" in window ? new BroadcastChannel("ovenwright-live") : null;
const hear = (told) => {
  if (told.kind === "away") say(`${notice.dataset.away} ${told.at}`);
  else if (told.kind === "back") say("");
  else if (told.kind === "start_over" || concerns(told.change)) changed();
};
const tell = (told) => {
  hear(told);
  others?.postMessage(told);
};

const stream = () => {
  const place = keptPlace();
  const source = new EventSource(place === null ? STREAM : `${STREAM}&cursor=${encodeURIComponent(place)}`);
  const note = (event) => event.lastEventId !== "" && keepPlace(event.lastEventId);
  const opened = () => {
    if (away === 0) return;
    clearTimeout(away);
    away = 0;
    tell({ kind: "back" });
  };
  source.addEventListener("open", opened);
  source.addEventListener("stand", note);
  source.addEventListener("start_over", (event) => (note(event), tell({ kind: "start_over" })));
  source.addEventListener("change", (event) => (note(event), tell({ kind: "change", change: JSON.parse(event.data) })));
  source.addEventListener("error", () => {
    if (source.readyState === EventSource.CLOSED) {
      // Refused: a place of another life of the database, or nobody is signed in any more. Begun anew after a while.
      localStorage.removeItem(PLACE);
      setTimeout(stream, AWAY_AFTER);
    }
    const at = new Date().toTimeString().slice(0, 5);
    if (away === 0) away = setTimeout(() => tell({ kind: "away", at }), AWAY_AFTER);
  });
};

if (main !== null && notice !== null) {
  others?.addEventListener("message", (message) => hear(message.data));
  // Only one tab listens; when it goes, another takes over. Without locks each tab has a stream of its own.
  if (navigator.locks) navigator.locks.request("ovenwright-live", () => (stream(), new Promise(() => {})));
  else stream();
}
