// Asks the worker that judges. Whatever keeps it from judging, the answer is undefined: then the office's last advice stands.

// Worker addresses pass a policy; ours allows this one and no other.
const policy = globalThis.trustedTypes?.createPolicy("ovenwright", {
  createScriptURL: (url) => {
    if (url === "/day-judge.js" || url === "/day-worker.js") return url;
    throw new TypeError(`${url} is no worker of these pages`);
  },
});
export const workerAddress = (url) => policy?.createScriptURL(url) ?? url;

let worker;
let number = 0;
const open = new Map();

const post = (message, transfer = []) =>
  new Promise((resolve) => {
    number += 1;
    open.set(number, resolve);
    worker.postMessage({ number, ...message }, transfer);
  });

async function start(day) {
  if (day.engine === null || typeof WebAssembly === "undefined") return false;
  const answer = await fetch(day.engine);
  if (!answer.ok) return false;
  const engine = await answer.arrayBuffer();
  worker = new Worker(workerAddress("/day-judge.js"));
  worker.addEventListener("message", ({ data }) => {
    open.get(data.number)?.(data.answer);
    open.delete(data.number);
  });
  worker.addEventListener("error", () => {
    for (const resolve of open.values()) resolve({ refused: "the worker broke off" });
    open.clear();
  });
  const answered = await post({ engine }, [engine]);
  return answered.refused === undefined;
}

let started;
const learned = new Map();
async function ready(day, name) {
  started ??= start(day).catch(() => false);
  if (!(await started) || day.knowledge[name] === undefined) return false;
  if (!learned.has(name)) {
    learned.set(name, post({ question: { ask: "learn", name, knowledge: day.knowledge[name] } }));
  }
  return "learned" === (await learned.get(name));
}

async function ask(day, visit, question) {
  const name = day.visits[visit]?.knowledge;
  if (name === null || name === undefined || !(await ready(day, name))) return undefined;
  return post({ question: { name, ...question } });
}

/** What follows from what the office knows of a visit's order and from what was taken here since. */
export async function judge(day, visit, taken) {
  const { evidence } = day.visits[visit] ?? {};
  const answer = await ask(day, visit, { ask: "judge", evidence, taken: taken.map(asEvidence) });
  // An engine that is not the office's own would say other things than the office.
  const isOurs = answer?.judged?.diagnosis === null || answer?.judged?.diagnosis?.engine_version === day.engine_version;
  return isOurs ? answer?.judged : undefined;
}

/** Makes ready while somebody reads: what is asked later is answered at once. */
export const warm = (day, visit) => ask(day, visit, { ask: "judge", evidence: day.visits[visit]?.evidence, taken: [] });

/** What is wrong with a run, and what is doubtful in it. */
export async function checkRun(day, visit, run) {
  const answer = await ask(day, visit, { ask: "check", run: asEvidence(run) });
  return { violations: answer?.violations ?? [], doubts: answer?.checked?.doubts ?? [] };
}

/** A run as it is sent, in the words in which it is judged. */
function asEvidence({ appliance_id, work_order_id, visit_id, interlock_defeat_id, ...rest }) {
  return {
    ...rest,
    appliance: appliance_id,
    work_order: work_order_id,
    visit: visit_id,
    interlock_defeat: interlock_defeat_id,
    epoch: 0,
  };
}
