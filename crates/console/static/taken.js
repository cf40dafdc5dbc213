// What was read here and is not sent yet: each value with its verdict as this phone works it out, what is likely wrong, and
// what comes next. Also on a visit's own page, under what the office knew.
import { judge } from "./judging.js";
import { day, dropEntry } from "./kept.js";
import { again, waiting } from "./outbox.js";

const words = document.getElementById("words")?.dataset ?? {};
const root = document.querySelector("[data-taken-here]");
const [, , visit, what, id] = location.pathname.split("/");
const TONES = { failed: "bad", degraded: "doubtful", ok: "good" };
const SAID = { failed: words.fails, degraded: words.degraded, ok: words.keeps };

const make = (name, text, of = {}) => Object.assign(document.createElement(name), { textContent: text, ...of });
const plain = (key) => key.replaceAll("_", " ");

function asRead(run, verdict) {
  const read = run.readings.find((of) => of.step === verdict.of.step);
  if (read?.choice !== undefined) return plain(read.choice);
  if (read?.value === undefined) return "";
  const bound = { at_least: "≥ ", at_most: "≤ " }[read.value.censored] ?? "";
  return `${bound}${read.value.text}${/[a-z]/i.test(read.value.text) ? "" : ` ${read.value.unit.replace(/[[\]]/g, "")}`}`;
}

function row(run, verdict) {
  const of = make("article", "", { className: "reading" });
  const line = make("p", "", { className: "what" });
  line.append(
    make("span", plain(verdict.of.step)), " ",
    make("strong", asRead(run, verdict), { className: "value" }), " ",
    make("strong", SAID[verdict.condition] ?? words.open, { className: TONES[verdict.condition] ?? "plain" }),
  );
  of.append(line, make("p", verdict.sentence));
  return of;
}

const list = (items) => {
  const of = make("ul", "");
  of.append(...items.map((text) => make("li", text)));
  return of;
};

/** What comes next, as this phone works it out. */
function advice(said) {
  const of = make("section", "", { className: "worked-out" });
  of.append(make("h2", words.next), make("p", words.workedOut, { className: "quiet" }));
  of.append(make("p", said.wrong, { className: "lead" }), list(said.sets));
  for (const note of said.notes) of.append(make("p", note));
  if (said.cautions.length > 0) {
    const heed = make("div", "", { className: "heed" });
    heed.append(list(said.cautions));
    of.append(heed);
  }
  of.append(make("p", said.next, { className: "lead" }));
  if (said.test !== null) of.append(make("p", said.test));
  if (said.before.length > 0) of.append(list(said.before));
  if (said.procedure !== null) {
    const link = make("a", words.begin, { className: "main huge", href: `/day/${visit}/procedures/${said.procedure}` });
    const line = make("p", "");
    line.append(link);
    of.append(line);
  }
  return of;
}

/** Refused by the office: why, and what can be done with it. */
function refusal(of) {
  const box = make("div", "", { className: "refusal" });
  box.setAttribute("role", "alert");
  const retry = make("button", words.sendAgain, { type: "button" });
  retry.addEventListener("click", async () => {
    await again(of.id);
    location.reload();
  });
  const drop = make("button", words.drop, { type: "button" });
  drop.addEventListener("click", async () => {
    if (!confirm(words.dropSure)) return;
    await dropEntry(of.id);
    location.assign(`/day/${of.visit}`);
  });
  box.append(make("p", `${words.refused} ${of.refused.sentence}`), retry, " ", drop);
  return box;
}

let hadOwn = false;
async function show() {
  const known = await day();
  const own = (await waiting()).filter((of) => of.visit === visit);
  const isRun = what === "runs";
  const ofVisit = root === null ? own : [];
  const wanted = isRun ? own.filter((of) => of.id === id) : ofVisit;
  const place = root ?? document.querySelector('[aria-labelledby="readings"]');
  if (place === null) return;
  hadOwn ||= wanted.length > 0;
  const parts = [];
  if (root !== null) {
    document.querySelector("h1").textContent = wanted[0]?.title ?? words.needsSignal;
    if (visit !== undefined) document.querySelector("[data-back]").href = `/day/${visit}`;
    if (wanted.length === 0) parts.push(make("p", words.needsSignalWhat));
  }
  if (wanted.length > 0 && known?.visits[visit] !== undefined) {
    const judged = await judge(known, visit, own.filter((of) => of.refused === undefined || of.id === id).map((of) => of.run));
    for (const of of wanted) {
      const title = make("h2", "");
      title.append(make("a", of.title, { href: `/day/${visit}/runs/${of.id}` }));
      if (!isRun) parts.push(title);
      parts.push(of.refused === undefined ? make("p", words.notSent, { className: "doubtful" }) : refusal(of));
      const verdicts = (judged?.assessment.verdicts ?? []).filter((verdict) => verdict.test_run === of.id);
      parts.push(...verdicts.map((verdict) => row(of.run, verdict)));
      if (judged === undefined) parts.push(make("p", words.notJudged));
    }
    if (judged !== undefined && judged.diagnosis !== null) parts.push(advice(judged.said));
  }
  const box = place.querySelector("[data-here]") ?? place.appendChild(make("div", "", { className: "here" }));
  box.dataset.here = "";
  box.replaceChildren(...parts);
}

// What the service has is the service's to show: the page is fetched anew, once, and never under somebody's hands.
async function reshow({ detail }) {
  const isStillHere = (await waiting()).some((of) => (what === "runs" ? of.id === id : of.visit === visit));
  const isTyping = document.activeElement?.matches("input, textarea, select") ?? false;
  const isAnew = performance.getEntriesByType("navigation")[0]?.type !== "reload";
  // A page in the place of a form's answer is not asked for again: the form would be sent again.
  const isShownElsewhere = hadOwn || (root !== null && what === "runs" && isAnew);
  if (detail.isReached && !isStillHere && !isTyping && isShownElsewhere) location.reload();
  else await show();
}

if (visit !== undefined && "indexedDB" in globalThis) {
  document.addEventListener("exchanged", reshow);
  show().catch((error) => console.warn(`what was taken here cannot be shown: ${error}`));
}
