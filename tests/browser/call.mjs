// A call with two faults at once, from the telephone to its end, in two windows: the office's and the technician's. By mouse,
// then by keyboard alone. The strainer hides the valve: cleared, the machine still fills too slowly.
import { check, finish, open, signInAs, visitor } from "./browser.mjs";
import { byKeyboard, byMouse } from "./hands.mjs";
import { carryOut, move, moveFrom, send, takeCall } from "./office.mjs";

const WORDS = "It fills and fills, and then the dishes are still dirty.";

/** Reads a procedure: cautions, steps, verdict, back to the visit. */
async function read(hand, visit, procedure, fill) {
  const { page } = hand;
  await hand.press(page.locator(`.tests a[href="${visit}/procedures/${procedure}"]`));
  await page.waitForURL(`**/procedures/${procedure}`);
  await hand.tick(page.locator('input[name="heeded"]'));
  for (const box of await page.locator('input[name="confirmed"]').all()) await hand.tick(box);
  await hand.press(page.locator("form.begin button"));
  await page.waitForURL("**begin=yes*");
  await fill(page);
  await Promise.all([page.waitForURL("**/runs/*"), hand.press(page.locator("form[data-steps] > button"))]);
  const said = await page.locator("main").textContent();
  await hand.press(page.locator(`a.huge[href="${visit}"]`));
  await page.waitForURL(`**${visit}`);
  return said;
}

const pressure = (hand) => async (page) => {
  await hand.write(page.locator('input[name="value:static_pressure"]'), "3.0");
  await hand.write(page.locator('input[name="value:dynamic_pressure"]'), "2.83");
  await skip(hand, page, "downstream_pressure");
};
const strainers = (hand, inlet) => async (page) => {
  await hand.pick(page.locator(`input[name="choice:inlet_strainer"][value="${inlet}"]`));
  await hand.pick(page.locator('input[name="choice:valve_strainer"][value="clear"]'));
};
const fill = (hand, seconds) => async (page) => {
  await hand.write(page.locator('input[name="value:fill_time"]'), seconds);
};
const cycle = (hand) => async (page) => {
  for (const [step, value] of [["outcome", "completed"], ["cleanliness", "clean"], ["leaks", "dry"]]) {
    await hand.pick(page.locator(`input[name="choice:${step}"][value="${value}"]`));
  }
};

async function skip(hand, page, step) {
  const section = page.locator(`#step-${step}`);
  await hand.press(section.locator("summary"));
  await hand.write(section.locator(`input[name="why:${step}"]`), "There is no second tap.");
}

async function story(hands, browser, words) {
  const [office, phone] = [await visitor(browser), await visitor(browser, { viewport: { width: 390, height: 844 } })];
  await signInAs(office, "dispatcher");
  await signInAs(phone, "technician");
  const [his, hers] = [hands(phone), hands(office)];
  const name = (await phone.locator(".who bdi").textContent()).trim();

  const order = await takeCall(hers, words);
  const number = new URL(order).pathname.split("/").pop();
  await send(hers, name);
  await carryOut(hers, move(office, "plan"));

  await phone.goto("/day");
  const card = phone.locator("article", { has: phone.locator("blockquote", { hasText: words }) });
  const visit = await card.locator('h3 a[href^="/day/"]').getAttribute("href");
  await his.press(card.locator('h3 a[href^="/day/"]'));
  await phone.waitForURL(`**${visit}`);
  for (const step of ["set_out", "arrive"]) await carryOut(his, moveFrom(phone, `${step}-`));

  await read(his, visit, "inlet_pressure", pressure(his));
  await read(his, visit, "strainer_look", strainers(his, "clogged"));
  const slow = await read(his, visit, "fill_time", fill(his, "31.97"));
  check(slow.includes("mend that and repeat"), `behind a clogged strainer nothing is said of the valve: ${slow}`);

  // The first of them: found, cleared, read again. It was not all.
  const strainer = phone.locator('.move[id^="move-find-"]', { hasText: "strainer" }).first();
  await carryOut(his, strainer, (form) => his.choose(form.locator('select[name="finding"]'), "failed"));
  await carryOut(his, move(phone, "start_repair"));
  await carryOut(his, move(phone, "act-other"), async (form) => {
    await his.choose(form.locator('select[name="position"]'), "inlet strainer");
    await his.choose(form.locator('select[name="action"]'), "cleared");
  });
  await read(his, visit, "inlet_pressure", pressure(his));
  await read(his, visit, "strainer_look", strainers(his, "clear"));
  check((await read(his, visit, "fill_time", fill(his, "27.4"))).includes("FAILS"), "with a clear strainer it still fails");

  // The second: the office finds it by what was read, brings the part and has the customer's word.
  await office.goto(order);
  await carryOut(hers, move(office, "find-other"), async (form) => {
    await hers.choose(form.locator('select[name="position"]'), "fill valve");
    await hers.choose(form.locator('select[name="finding"]'), "failed");
    await hers.choose(form.locator('select[name="failure_mode"]'), "slow");
    await hers.choose(form.locator('select[name="evidence"]'), "timed");
  });
  await carryOut(hers, move(office, "add-line"), async (form) => {
    const parts = form.locator('select[name="part"]');
    const valve = (await parts.locator("option").allTextContents()).find((label) => /fill.valve/i.test(label));
    await hers.choose(parts, valve.trim());
  });
  await carryOut(hers, move(office, "quote"));
  await carryOut(hers, moveFrom(office, "approved-"));
  for (const step of ["order", "receive", "set_aside"]) {
    const form = moveFrom(office, `${step}-`);
    if ((await form.count()) > 0) await carryOut(hers, form);
  }

  await phone.reload();
  await carryOut(his, moveFrom(phone, "fit-"));
  await carryOut(his, move(phone, "act-other"), async (form) => {
    await his.choose(form.locator('select[name="position"]'), "fill valve");
    await his.choose(form.locator('select[name="action"]'), "replaced");
    const used = form.locator('select[name="part_line"]');
    await his.choose(used, (await used.locator("option").last().textContent()).trim());
  });
  await carryOut(his, move(phone, "report_repaired"));
  await read(his, visit, "inlet_pressure", pressure(his));
  await read(his, visit, "strainer_look", strainers(his, "clear"));
  check((await read(his, visit, "fill_time", fill(his, "12.71"))).includes("keeps"), "repaired, it keeps its limit");
  await read(his, visit, "full_cycle", cycle(his));
  await carryOut(his, move(phone, "prove"));
  await carryOut(his, moveFrom(phone, "leave-"), async (form) => {
    await his.choose(form.locator('select[name="result"]'), "repaired");
    await his.choose(form.locator('select[name="appliance_state"]'), "in order");
  });

  await office.goto(order);
  await carryOut(hers, move(office, "close"));
  const end = await office.locator("#order-axis").textContent();
  check(end.includes("Ended") && end.includes("repaired"), `order ${number} is closed as repaired: ${end}`);
  for (const page of [office, phone]) {
    check(page.faults.length === 0, page.faults.join("; "));
    await page.context().close();
  }
}

const browser = await open();
for (const [name, hands] of [["mouse", byMouse], ["keyboard", byKeyboard]]) {
  const began = Date.now();
  try {
    await story(hands, browser, `${WORDS} Told by ${name}, ${began}.`);
  } catch (error) {
    check(false, `by ${name}: ${error.stack}`);
  }
  console.log(`  by ${name}: ${((Date.now() - began) / 1000).toFixed(1)} s`);
}
await browser.close();
finish("a call with two faults goes to its end by mouse, and by keyboard alone");
