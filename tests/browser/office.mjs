// What the office and a technician do by their forms, by whichever hand (hands.mjs).
import { check } from "./browser.mjs";

/** Carries out the form under a button: unfolds it, fills it in, sends it, waits for the page that answers. */
export async function carryOut(hand, form, fill = async () => {}) {
  const { page } = hand;
  const unfold = form.locator("summary");
  if ((await unfold.count()) > 0) await hand.press(unfold);
  await fill(form);
  await answered(page, () => hand.press(form.locator("button")));
}

/** Waits for the page that a form is answered with, and sees that it refuses nothing. */
export async function answered(page, send, wanted = 303) {
  const [answer, loaded] = [page.waitForResponse((response) => response.request().method() === "POST"), page.waitForEvent("load")];
  await send();
  const [status, url] = await answer.then((response) => [response.status(), response.url()]);
  await loaded;
  const refusals = await page.locator(".refusal").allTextContents();
  if (status !== wanted) throw new Error(`${url} answered ${status}: ${refusals.join(" | ")}`);
}

export const move = (page, key) => page.locator(`[id="move-${key}"]`);
export const moveFrom = (page, start) => page.locator(`.move[id^="move-${start}"]`).first();

export async function takeCall(hand, words) {
  const { page } = hand;
  await page.keyboard.press("n");
  await page.waitForURL("**/calls/new");
  await hand.write(page.locator("#words"), "Fennick Hotel");
  await Promise.all([page.waitForURL("**words=*"), page.keyboard.press("Enter")]);
  await hand.press(page.locator("tr", { hasText: "kitchen" }).locator("a[data-line]").first());
  await page.waitForURL("**site=*");
  const machine = page.locator('select[name="machine"]');
  const combi = (await machine.locator("option").allTextContents()).find((label) => /combi/i.test(label));
  await hand.choose(machine, combi.trim());
  await hand.write(page.locator('textarea[name="words"]'), words);
  const complaint = page.locator('select[name="complaint"]');
  const dirty = (await complaint.locator("option").allTextContents()).find((label) => label.startsWith("does not clean"));
  await hand.choose(complaint, dirty.trim());
  await hand.pick(page.locator('input[name="urgency"][value="degraded"]'));
  // What is known is looked at first, and what was typed stays.
  await answered(page, () => hand.press(page.locator('button[value="look"]')), 200);
  check((await page.locator('textarea[name="words"]').inputValue()) === words, "what was typed stays while one looks");
  check(/%/.test(await page.locator("aside").textContent()), "what is likely is told before the order is opened");
  check((await page.locator(".questions fieldset").count()) === 3, "three questions are put");
  await answered(page, () => hand.press(page.locator('button[value="open"]')));
  await page.waitForURL(/\/orders\/\d+$/);
  return page.url();
}

export async function send(hand, name) {
  const { page } = hand;
  await carryOut(hand, move(page, "assess"));
  await carryOut(hand, move(page, "book"), async (form) => {
    await hand.tick(form.locator("label", { hasText: name }).locator("input"));
    await hand.write(form.locator('input[name="overlap_reason"]'), "It lies on the way.");
  });
}
