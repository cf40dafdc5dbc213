// Answers in the service's place where there is no signal. The line above, which the service puts there, names the files of
// this version. Nothing is answered from here that the service can answer, but files that never change.

const FILES = `files ${shell.version}`;
const PAGES = "pages";
const ENGINE = "engine";
const TAKEN = "/day/taken";
/** A page that is kept is shown when the service has said nothing for so long. */
const PATIENCE_MS = 4_000;

self.addEventListener("install", (event) => {
  const keep = async () => (await caches.open(FILES)).addAll([...shell.files, "/day-judge.js", "/day.webmanifest"]);
  event.waitUntil(keep().then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  // Pages that were kept before name the files of the version before: those stay as long as these.
  const tidy = async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith("files ") && name !== FILES);
    await Promise.all(old.slice(0, -1).map((name) => caches.delete(name)));
    await self.clients.claim();
  };
  event.waitUntil(tidy());
});

const isFile = (url) => url.pathname.startsWith("/static/");
const isEngine = (url) => url.pathname === "/day-engine.wasm";

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request, url));
  else if (request.method !== "GET") return;
  else if (isFile(url) || isEngine(url)) event.respondWith(file(request, isEngine(url) ? ENGINE : FILES));
  else if (url.pathname === "/day-judge.js" || url.pathname === "/day.webmanifest") event.respondWith(newest(request));
});

/** A file whose address says what is in it. */
async function file(request, name) {
  const kept = await caches.match(request.url);
  if (kept !== undefined) return kept;
  const answer = await fetch(request);
  if (answer.ok) {
    const cache = await caches.open(name);
    // Of the engine the newest alone: it is large.
    if (name === ENGINE) await Promise.all((await cache.keys()).map((of) => cache.delete(of)));
    await cache.put(request.url, answer.clone());
  }
  return answer;
}

async function newest(request) {
  try {
    const answer = await fetch(request);
    if (answer.ok) await (await caches.open(FILES)).put(request.url, answer.clone());
    return answer;
  } catch {
    return (await caches.match(request.url)) ?? Response.error();
  }
}

/** From the service, else as it was kept, else the page that says so. */
async function page(request, url) {
  const kept = request.method === "GET" ? await keptPage(url) : undefined;
  const silence = new AbortController();
  const timer = setTimeout(() => silence.abort(), PATIENCE_MS);
  try {
    const answer = await (kept === undefined ? fetch(request) : fetch(request, { signal: silence.signal }));
    clearTimeout(timer);
    if (answer.ok && isKept(url)) await (await caches.open(PAGES)).put(url.pathname, answer.clone());
    // A gateway that finds no service behind it is no answer either.
    return [502, 503, 504].includes(answer.status) && kept !== undefined ? kept : answer;
  } catch {
    return kept ?? (await caches.match(TAKEN)) ?? Response.error();
  }
}

const isKept = (url) => url.search === "" && /^\/day(\/[0-9a-f-]{36})?$/.test(url.pathname);

async function keptPage(url) {
  const cache = await caches.open(PAGES);
  if (/\/runs\/[0-9a-f-]{36}$/.test(url.pathname)) return cache.match(TAKEN);
  const asked = url.searchParams;
  const isBegun = asked.get("begin") !== null && asked.get("heeded") !== null;
  return cache.match(url.pathname + (isBegun ? "?begin=yes" : ""));
}
