// The technician's phone in a cellar: the visit opens without signal, a reading is taken and judged there, outlives a closed
// page, and arrives once, whatever is lost on the way.
import { base, check, finish, open, signInAs, visitor } from "./browser.mjs";
import { byMouse } from "./hands.mjs";
import { line } from "./line.mjs";
import { moveFrom, send, takeCall } from "./office.mjs";

const ONE_PHONE = { viewport: { width: 390, height: 844 } };

/** Waits until the phone has exchanged everything, on a page of the day. */
async function exchanged(page, path) {
  await page.goto(path);
  await page.waitForFunction(() => globalThis.exchanged === true, undefined, { timeout: 60_000 });
}

/** Fill time behind its cautions, as it is typed; the address of what was taken. */
async function takeFill(page, visit, seconds) {
  await page.goto(visit);
  await page.locator(`.tests a[href="${visit}/procedures/fill_time"]`).click();
  await page.waitForURL("**/procedures/fill_time");
  await page.locator("label.tick", { has: page.locator('input[name="heeded"]') }).click();
  for (const box of await page.locator('label.tick:has(input[name="confirmed"])').all()) await box.click();
  await page.locator("form.begin button").click();
  await page.waitForURL("**begin=yes*");
  await page.locator('input[name="value:fill_time"]').fill(seconds);
  await page.locator("form[data-steps] > button").click();
  await page.waitForURL("**/runs/*");
  return new URL(page.url()).pathname;
}

const headers = { authorization: `Bearer ${process.env.OVENWRIGHT_TOKEN}` };
const runsOf = async (order) => (await (await fetch(`${base}/v1/work-orders/${order}/test-runs`, { headers })).json()).items;

const browser = await open();
const cellar = await line(base);
try {
  const [office, phone] = [await visitor(browser), await visitor(browser, { ...ONE_PHONE, baseURL: cellar.url })];
  const context = phone.context();
  const told = () => document.addEventListener("exchanged", ({ detail }) => (globalThis.exchanged = detail.isReached));
  await context.addInitScript(told);
  await signInAs(office, "dispatcher");
  await signInAs(phone, "technician");
  const name = (await phone.locator(".who bdi").textContent()).trim();
  await takeCall(byMouse(office), `It fills and fills. Told at ${Date.now()}.`);
  const number = new URL(office.url()).pathname.split("/").pop();
  await send(byMouse(office), name);

  await exchanged(phone, "/day");
  await phone.waitForFunction(() => navigator.serviceWorker.controller !== null);
  const links = await phone.locator('h3 a[href^="/day/"]').evaluateAll((all) => all.map((one) => one.getAttribute("href")));
  let visit;
  for (const href of links) {
    await phone.goto(href);
    if ((await phone.locator(`a[href="/orders/${number}"]`).count()) > 0) visit = href;
    if (visit !== undefined) break;
  }
  if (visit === undefined) throw new Error(`order ${number} is not in his day`);
  for (const step of ["set_out", "arrive"]) {
    const button = moveFrom(phone, `${step}-`).locator("button");
    await Promise.all([phone.waitForEvent("load"), button.click()]);
    check((await phone.locator(".refusal").count()) === 0, `${step} is not refused`);
  }
  const began = Date.now();
  await exchanged(phone, "/day");
  console.log(`  the day is kept in ${Date.now() - began} ms`);
  const day = await phone.evaluate(async () => (await fetch("/day/kept")).json());
  const { order } = day.visits[visit.split("/").pop()];
  check(day.engine !== null, "the program has the engine in it: scripts/engine");

  // In the cellar.
  cellar.cut();
  await phone.goto("/day");
  check((await phone.locator(`h3 a[href="${visit}"]`).count()) === 1, "the day opens without signal");
  const at = Date.now();
  const run = await takeFill(phone, visit, "61.5");
  await phone.locator(".here .reading").waitFor({ timeout: 60_000 });
  console.log(`  taken and judged without signal in ${Date.now() - at} ms`);
  const here = await phone.locator("main").textContent();
  check(here.includes("Kept here, not sent yet"), `it says that it waits: ${here}`);
  const verdict = await phone.locator(".here .reading p").nth(1).textContent();
  check(verdict.includes("61.5 s") || verdict.includes("62 s"), `the phone judges: ${verdict}`);
  const next = await phone.locator(".here .worked-out").textContent();
  check(next.includes("Worked out on this phone"), `the phone says what comes next: ${next}`);

  // A form that needs the service changes nothing, and says so.
  await phone.goto(visit);
  await phone.locator(".here .reading").waitFor({ timeout: 60_000 });
  check((await phone.locator(".outbox").textContent()).includes("not sent yet: 1"), "the visit's page says what waits");
  await phone.close();

  // Closed and opened again, still without signal.
  const anew = await context.newPage();
  await anew.goto(run);
  await anew.locator(".here .reading").waitFor({ timeout: 60_000 });
  check((await anew.locator(".here .reading p").nth(1).textContent()) === verdict, "what was taken is there after the page was closed");

  // The service keeps it, and its answer is lost; then the line is good.
  const id = run.split("/").pop();
  cellar.deaf();
  await anew.goto(visit);
  for (let wait = 0; wait < 50; wait += 1) {
    if ((await runsOf(order)).some((of) => of.id === id)) break;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  check((await runsOf(order)).filter((of) => of.id === id).length === 1, "the service has it, though the phone does not know");
  cellar.open();
  await exchanged(anew, run);
  await anew.locator("h2", { hasText: "Put back" }).waitFor({ timeout: 30_000 });
  const said = await anew.locator("main").textContent();
  check(said.includes(verdict), `the office says what the phone said: ${verdict} | ${said}`);
  check((await anew.locator(".outbox").count()) === 0, "nothing waits any more");
  const runs = await runsOf(order);
  check(runs.filter((of) => of.id === id).length === 1 && runs.length === 1, `it is kept once: ${runs.length}`);

  // With signal the same page sends at once.
  await takeFill(anew, visit, "59");
  check((await anew.locator("main").textContent()).includes("Kept."), "with signal the office's own page answers");
  check((await runsOf(order)).length === 2, "and has both");

  // Whoever is signed out sees nothing that was kept.
  await anew.goto("/day");
  await Promise.all([anew.waitForURL("**/sign-in*"), anew.locator('form[action="/sign-out"] button').click()]);
  cellar.cut();
  await anew.goto(visit).catch(() => {});
  check(!(await anew.locator("body").textContent()).includes("fill"), "signed out, the phone shows nothing");
} catch (error) {
  check(false, error.stack);
} finally {
  cellar.end();
  await browser.close();
}
finish("a reading taken without signal is judged there and arrives once");
