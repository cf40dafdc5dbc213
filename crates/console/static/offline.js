// The day on the phone: kept while there is signal, sent when it is back, and shown what waits. On every page of the day.
import { day, forgetDay, keepDay } from "./kept.js";
import { workerAddress } from "./judging.js";
import { send, waiting } from "./outbox.js";

const PAGES = "pages";
const ENGINE = "engine";
const TAKEN = "/day/taken";
/** The day is asked for on its own page, and else when it was not for so long. */
const FRESH_MS = 60_000;
const FIRST_RETRY_MS = 5_000;
const LAST_RETRY_MS = 300_000;

const words = document.getElementById("words")?.dataset ?? {};
const signedOut = (answer) => answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403;

/** Keeps the day anew if it changed. Says whether the service was reached. */
async function keep(isDue) {
  const known = await day();
  const isSomebodyElses = known?.name !== document.querySelector(".who bdi")?.textContent;
  if (known !== undefined && !isDue && !isSomebodyElses && Date.now() - known.asked < FRESH_MS) return true;
  let answer;
  try {
    const headers = known === undefined ? {} : { "if-none-match": known.tag };
    answer = await fetch("/day/kept", { headers, redirect: "manual", cache: "no-store" });
  } catch {
    return false;
  }
  if (signedOut(answer)) {
    await forget();
    return true;
  }
  if (answer.status === 304) {
    await keepEngine(known.engine);
    await keepDay({ ...known, asked: Date.now() });
    return true;
  }
  if (!answer.ok) return false;
  const { pages, ...of } = await answer.json();
  const tag = answer.headers.get("etag") ?? "";
  // The pages first: what is said to be kept is there. Somebody else's day is not added to.
  if (known !== undefined && known.person !== of.person) await caches.delete(PAGES);
  if (!(await keepPages(pages, Object.keys(of.visits)))) return false;
  await keepEngine(of.engine);
  await keepDay({ ...of, tag, asked: Date.now() });
  await navigator.storage?.persist?.();
  return true;
}

/** Says whether all of them came. */
async function keepPages(pages, visits) {
  const cache = await caches.open(PAGES);
  const html = { headers: { "content-type": "text/html; charset=utf-8" } };
  for (const [at, text] of Object.entries(pages)) await cache.put(at, new Response(text, html));
  const fetched = ["/day", TAKEN, ...visits.map((visit) => `/day/${visit}`)];
  const come = await Promise.all(fetched.map(async (at) => {
    const answer = await fetch(at, { redirect: "manual" }).catch(() => undefined);
    if (answer?.ok) await cache.put(at, answer);
    return answer?.ok ?? false;
  }));
  if (!come.every(Boolean)) return false;
  // What is over is not kept longer than its day.
  const wanted = new Set([...Object.keys(pages), ...fetched].map((at) => new URL(at, location.origin).href));
  for (const request of await cache.keys()) if (!wanted.has(request.url)) await cache.delete(request);
  return true;
}

/** What is judged with: fetched once a release, while there is signal. */
async function keepEngine(engine) {
  if (engine === null) return;
  const cache = await caches.open(ENGINE);
  if ((await cache.match(engine)) !== undefined) return;
  for (const old of await cache.keys()) await cache.delete(old);
  const answer = await fetch(engine).catch(() => undefined);
  if (answer?.ok && (await cache.match(engine)) === undefined) await cache.put(engine, answer);
}

/** A session that has ended shows nothing that was kept. What waits to be sent stays for whoever took it. */
async function forget() {
  await caches.delete(PAGES);
  await forgetDay();
}

/** Says on top what waits and what was refused, and whether this page comes from the phone. */
async function show(isReached) {
  const all = await waiting();
  const refused = all.filter((of) => of.refused !== undefined);
  const bar = document.querySelector("[data-outbox]") ?? document.createElement("section");
  bar.className = "outbox";
  bar.dataset.outbox = "";
  bar.setAttribute("role", "status");
  const line = (text, tone) => {
    const of = document.createElement("p");
    of.textContent = text;
    if (tone !== undefined) of.className = tone;
    return of;
  };
  const lines = [];
  if (!isReached) lines.push(line(words.away));
  if (all.length > refused.length) lines.push(line(words.waiting.replace("#", all.length - refused.length), "doubtful"));
  for (const of of refused) {
    const told = line(`${words.refused} ${of.title}: ${of.refused.sentence}`, "bad");
    const link = document.createElement("a");
    [link.href, link.textContent] = [`/day/${of.visit}/runs/${of.id}`, words.look];
    told.append(" ", link);
    lines.push(told);
  }
  bar.replaceChildren(...lines);
  if (lines.length === 0) bar.remove();
  else if (!bar.isConnected) document.getElementById("main")?.prepend(bar);
  for (const of of document.querySelectorAll("[data-needs-signal]")) of.textContent = words.kept;
}

let retry = FIRST_RETRY_MS;
let timer = 0;
let underWay = Promise.resolve();
/** Sends and keeps, one after the other; tries again later, ever more seldom, only while something waits. */
const exchange = (isDue) => (underWay = underWay.catch(() => {}).then(() => exchangeNow(isDue)));

async function exchangeNow(isDue) {
  clearTimeout(timer);
  // Before anything goes out it is known whose session this is: nobody sends what another took.
  const isKept = await keep(isDue || (await waiting()).length > 0);
  const sent = await send();
  const isNew = sent.results.some((result) => result.status !== "rejected");
  const isReached = (isNew ? await keep(true) : isKept) && sent.reached;
  await show(isReached);
  if (sent.reached) {
    retry = FIRST_RETRY_MS;
  } else {
    timer = setTimeout(() => exchange(false), retry);
    retry = Math.min(retry * 2, LAST_RETRY_MS);
  }
  document.dispatchEvent(new CustomEvent("exchanged", { detail: { ...sent, isReached } }));
}

if ("serviceWorker" in navigator && "indexedDB" in globalThis && "caches" in globalThis) {
  navigator.serviceWorker.register(workerAddress("/day-worker.js"), { scope: "/day" }).catch(() => {});
  addEventListener("online", () => exchange(true));
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && exchange(false));
  // The page that stands for another asks: the other may be had by now.
  const isDue = location.pathname === "/day" || document.querySelector("[data-taken-here]") !== null;
  exchange(isDue).catch((error) => console.warn(`nothing can be kept here: ${error}`));

  // Nobody signs out over readings that nobody else has.
  const out = document.querySelector('form[action="/sign-out"]');
  let isFree = false;
  out?.addEventListener("submit", async (event) => {
    if (isFree) return;
    event.preventDefault();
    try {
      if ((await waiting()).length > 0) {
        await show((await send()).reached);
        if ((await waiting()).length > 0) return alert(words.signOut);
      }
      await forget();
    } catch {
      // A browser that keeps nothing has nothing to lose.
    }
    isFree = true;
    out.requestSubmit();
  });
}
