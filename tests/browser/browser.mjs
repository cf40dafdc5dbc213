// One Chromium, and pages in it that keep what they were told: console messages, failed requests, bytes.
import { existsSync } from "node:fs";
import { chromium } from "playwright-core";

export const base = process.env.OVENWRIGHT_URL;
const executablePath = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/google-chrome"].find(existsSync);

// Nothing that the browser does by itself in the background is wanted here.
const quiet = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];

export const open = () =>
  chromium.launch({ executablePath, args: process.getuid?.() === 0 ? ["--no-sandbox", ...quiet] : quiet });

/** A page of its own session; `page.faults` lists what a person with the tools open would see in red. */
export async function visitor(browser, options = {}) {
  const context = await browser.newContext({ baseURL: base, viewport: { width: 1280, height: 900 }, ...options });
  const page = await context.newPage();
  page.faults = [];
  page.bytes = 0;
  page.on("console", (message) => page.faults.push(`console: ${message.text()} (${message.location().url})`));
  page.on("pageerror", (error) => page.faults.push(`script: ${error.message}`));
  page.on("requestfailed", (request) => {
    const why = request.failure()?.errorText;
    // Whoever goes on at once leaves a picture of the page before unfetched.
    if (why !== "net::ERR_ABORTED") page.faults.push(`failed: ${request.url()} ${why}`);
  });
  page.on("requestfinished", async (request) => {
    const sizes = await request.sizes().catch(() => undefined);
    page.bytes += sizes === undefined ? 0 : sizes.responseBodySize + sizes.responseHeadersSize;
  });
  return page;
}

/** Signs in as one of the demo's people, whom the sign-in page offers. */
export async function signInAs(page, role) {
  await page.goto("/sign-in");
  await page.locator(".guests button", { hasText: role }).first().click();
  await page.waitForURL(/\/(today|day)$/);
}

export const failures = [];
export function check(holds, what) {
  if (!holds) {
    failures.push(what);
    console.error(`  FAILS  ${what}`);
  }
}
export function finish(said) {
  console.log(failures.length === 0 ? `  ${said}` : `  ${failures.length} failed`);
  process.exitCode = failures.length === 0 ? 0 : 1;
}
