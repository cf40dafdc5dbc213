// README's pictures: what a dispatcher sees on Today, and an order with readings and a diagnosis.
import { mkdirSync } from "node:fs";
import { finish, check, open, signInAs, visitor } from "./browser.mjs";

const folder = new URL("../../crates/console/pictures/", import.meta.url).pathname;
mkdirSync(folder, { recursive: true });
const browser = await open();
const page = await visitor(browser, { viewport: { width: 1280, height: 860 } });
await signInAs(page, "dispatcher");
await page.screenshot({ path: `${folder}today.png` });

/** The open order with most readings. */
const orders = await page.locator(".lines a[data-line]").evaluateAll((links) => links.map((link) => link.getAttribute("href")));
let best = { href: orders[0], readings: 0 };
for (const href of orders) {
  await page.goto(href);
  const readings = await page.locator(".readings svg.scale").count();
  if (readings > best.readings) best = { href, readings };
}
check(best.readings > 0, "no open order of the demo has a reading");
await page.goto(best.href);
await page.setViewportSize({ width: 1280, height: 1180 });
await page.screenshot({ path: `${folder}order.png` });
await browser.close();
finish("pictures in crates/console/pictures");
