// What a hand on the keyboard does, and what a page does without script.
import { check, finish, open, signInAs, visitor } from "./browser.mjs";

const browser = await open();
const page = await visitor(browser);
await signInAs(page, "dispatcher");
await page.keyboard.press("Tab");
check((await page.evaluate(() => document.activeElement.className)) === "skip", "the first stop leads past the head of the page");
await page.goto("/today");
await page.keyboard.press("ArrowDown");
check(await page.evaluate(() => document.activeElement.matches("[data-line]")), "arrow down goes to the first order");
await Promise.all([page.waitForURL("**/orders/*"), page.keyboard.press("Enter")]);
await page.keyboard.press("g");
await Promise.all([page.waitForURL("**/today"), page.keyboard.press("t")]);
await page.keyboard.press("/");
await page.keyboard.type("hospital");
await Promise.all([page.waitForURL("**/search?words=hospital"), page.keyboard.press("Enter")]);
check((await page.locator("main a").count()) > 0, "a search finds kitchens");
await page.locator("body").click({ position: { x: 1, y: 1 } });
await Promise.all([page.waitForURL("**/calls/new"), page.keyboard.press("n")]);
check(page.faults.length === 0, page.faults.join("; "));

const plain = await visitor(browser, { javaScriptEnabled: false });
await signInAs(plain, "dispatcher");
await plain.locator("a[data-line]").first().click();
check((await plain.locator("dl.axes").count()) === 1, "an order is shown without script");
await plain.locator('.who button').click();
check(new URL(plain.url()).pathname.startsWith("/sign-in") || new URL(plain.url()).pathname === "/", "signing out works without script");
await plain.goto("/today");
check(new URL(plain.url()).pathname === "/sign-in", "and ends the session");
await browser.close();
finish("keys lead where they say; pages work without script");
