// What one does, the other sees without asking: two in the office at once, each in a browser of their own.
import { base, check, finish, open, signInAs, visitor } from "./browser.mjs";

const headers = { authorization: `Bearer ${process.env.OVENWRIGHT_TOKEN}`, "content-type": "application/json" };
const ask = async (path, options = {}) => {
  const answer = await fetch(base + path, { headers, ...options });
  if (!answer.ok) throw new Error(`${path} answered ${answer.status}: ${await answer.text()}`);
  return answer;
};
let notes = 0;
// A note that asks to ring back within the hour: it stands on Today and on the order's own page.
const note = async ({ id }) => {
  notes += 1;
  const own = `${Date.now().toString(16).padStart(12, "0").replace(/^(.{8})(.{4})$/, "$1-$2")}-7000-8000-${notes.toString(16).padStart(12, "0")}`;
  const at = new Date(Date.now() + 3600000).toISOString();
  await ask(`/v1/work-orders/${id}/notes`, { method: "POST", body: JSON.stringify({ id: own, words: "She asks the board.", ring_back_at: at }) });
};
const [first, second, third] = (await (await ask("/v1/work-orders?open=true&limit=3")).json()).items;

const browser = await open();
const page = await visitor(browser);
const listens = page.waitForResponse((response) => response.url().includes("/v1/events"));
await signInAs(page, "dispatcher");
await listens;

// On Today the line changes under the hand, and says when.
const line = page.locator("tr", { has: page.locator(`a[data-line][href="/orders/${first.number}"]`) });
const before = await line.textContent();
await line.locator("a[data-line]").focus();
await note(first);
await page.locator("tr.fresh", { has: page.locator(`a[data-line][href="/orders/${first.number}"]`) }).waitFor({ timeout: 20000 });
check((await line.textContent()) !== before, "the line says what is new");
check(/\d\d:\d\d/.test(await line.locator(".stands").getAttribute("data-fresh")), "and since when");
check(await page.evaluate((href) => document.activeElement.getAttribute("href") === href, `/orders/${first.number}`), "the focus stays where it was");
check((await page.locator("[data-live-notice]").textContent()).includes("1"), "it is said how many changed");

// Whoever types is told, and loses nothing.
await page.locator("#words").fill("bake");
await note(second);
await page.locator("[data-live-notice] button").waitFor({ timeout: 20000 });
check((await page.locator("#words").inputValue()) === "bake", "what was typed stays");
await page.locator("[data-live-notice] button").click();
await page.waitForLoadState();

// An order's own page; and a second tab of the same browser, which has no stream of its own.
await page.goto(`/orders/${third.number}`);
const tab = await page.context().newPage();
const streams = [];
tab.on("request", (request) => request.url().includes("/v1/events") && streams.push(request.url()));
await tab.goto(`/orders/${third.number}`);
const states = await Promise.all([page, tab].map((view) => view.locator("#notes-axis").textContent()));
await note(third);
for (const [number, view] of [page, tab].entries()) {
  const changed = view.waitForFunction((before) => document.querySelector("#notes-axis").textContent !== before, states[number], { timeout: 20000 });
  await changed.catch(() => check(false, `view ${number} of the order does not show what is new`));
}
check(streams.length === 0, "one stream for all tabs of a browser");
await page.close();
await tab.waitForTimeout(500);
check(streams.length === 1, "when the tab that listened goes, another listens");
await tab.close();

check(page.faults.length === 0, page.faults.join("; "));
await browser.close();
finish("what one does the other sees, and loses nothing that he typed");
