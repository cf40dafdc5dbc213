// Every page × role × light, dark and 390 px: no barrier that axe finds (WCAG 2.2 A and AA), valid HTML, no console message, no
// sideways scrolling, no more bytes than the budget. Pictures of all lie in .local/browser/pictures afterwards.
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { HtmlValidate } from "html-validate";
import { check, finish, open, signInAs, visitor } from "./browser.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const pictures = new URL("../../.local/browser/pictures/", import.meta.url).pathname;
const FIRST_LOAD = 150_000;
const NEXT_PAGE = 30_000;
const looks = [
  ["light", { colorScheme: "light" }],
  ["dark", { colorScheme: "dark" }],
  ["phone", { colorScheme: "light", viewport: { width: 390, height: 844 } }],
];
// In German, whose words are long, what is looked at all day.
const german = ["today", "order", "stopped", "kitchen", "call_where", "call", "day", "visit", "procedure"];
const html = new HtmlValidate({
  extends: ["html-validate:recommended", "html-validate:a11y"],
  // Left to the templates: white space, the case of `doctype`, types that are the default. Enter sends a search of one line.
  rules: {
    "no-trailing-whitespace": "off", "doctype-style": "off", "void-style": "off", "long-title": "off",
    "no-implicit-button-type": "off", "no-implicit-input-type": "off", "wcag/h32": "off", "tel-non-breaking": "off",
    "form-dup-name": ["error", { shared: ["radio", "checkbox", "button", "submit", "reset"] }],
    "no-inline-style": "error",
  },
});

/** Where each page is found, from what the pages themselves link to. */
async function places(page, role) {
  const first = async (selector) => {
    const link = page.locator(selector).first();
    return (await link.count()) > 0 ? link.getAttribute("href") : undefined;
  };
  if (role === "technician") {
    await page.goto("/day");
    const visit = await first('h3 a[href^="/day/"]');
    if (visit === undefined) return { day: "/day" };
    await page.goto(visit);
    const procedure = await first('main a[href*="/procedures/"]');
    // Cautions come first, the steps once they are read.
    return { day: "/day", visit, procedure };
  }
  await page.goto("/today");
  const order = await first(".lines a[data-line]");
  const stopped = await first(".stopped a[data-line]");
  await page.goto(order);
  const kitchen = await first('h1 a[href^="/kitchens/"]');
  const machine = await first('h1 a[href^="/machines/"]');
  await page.goto(kitchen);
  const call = await first('main a[href^="/calls/new"]');
  await page.goto("/catalogue");
  const [model, procedure, faults] = [await first('a[href^="/catalogue/models/"]'), await first('a[href^="/catalogue/procedures/"]'), await first('a[href^="/catalogue/faults/"]')];
  const own = await first('a[href="/catalogue/own-machine"]');
  await page.goto("/people");
  const person = await first('main a[href^="/people/"]');
  const happenings = await first('nav a[href="/happenings"]');
  return {
    today: "/today", order, stopped, kitchen, machine, call_where: "/calls/new", call, search: "/search?words=hospital", lost: "/nowhere",
    numbers: "/numbers/repeats", numbers_positions: "/numbers/repeats?by=positions", numbers_parts: "/numbers/parts",
    measures: "/numbers/measures", measures_by_model: "/numbers/measures?by=model", early_warnings: "/numbers/early-warnings",
    part_life: "/numbers/part-life?position=fill_valve",
    catalogue: "/catalogue", model, procedure, faults, own: own && `${own}?like=demo_combi`,
    people: "/people", person, rules: "/house-rules", happenings,
  };
}

async function judge(page, name, path) {
  const response = await page.goto(path);
  check(response.status() === (name.endsWith("lost") ? 404 : 200), `${name}: ${path} answered ${response.status()}`);
  await page.evaluate(axe);
  const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
  const { violations } = await page.evaluate((tags) => globalThis.axe.run({ runOnly: tags }), tags);
  for (const found of violations) {
    check(false, `${name}: axe ${found.id} (${found.help}): ${found.nodes.slice(0, 3).map((node) => node.target).join(" | ")}`);
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  check(wide <= 0, `${name}: scrolls ${wide} px sideways`);
  await page.screenshot({ path: `${pictures}${name}.png`, fullPage: true });
  // A page that is not found is told as such by the browser, too.
  const faults = page.faults.splice(0).filter((fault) => !(name.endsWith("lost") && fault.includes("404")));
  check(faults.length === 0, `${name}: ${faults.join("; ")}`);
}

async function isValid(page, name, path) {
  const source = await (await page.request.get(path)).text();
  const report = await html.validateString(source);
  for (const message of report.results.flatMap((result) => result.messages)) {
    check(false, `${name}: line ${message.line}: ${message.message} (${message.ruleId})`);
  }
}

async function bytes(browser, role, of) {
  const page = await visitor(browser);
  await signInAs(page, role);
  check(page.bytes <= FIRST_LOAD, `the first load took ${page.bytes} bytes, more than ${FIRST_LOAD}`);
  for (const [name, path] of Object.entries(of)) {
    page.bytes = 0;
    await page.goto(path);
    // An open stream never comes to rest; letters and pictures do.
    await page.evaluate(() => document.fonts.ready);
    check(page.bytes <= NEXT_PAGE, `${name} took ${page.bytes} bytes, more than ${NEXT_PAGE}`);
  }
  await page.context().close();
}

mkdirSync(pictures, { recursive: true });
const browser = await open();
let looked = 0;
for (const role of ["dispatcher", "manager", "administrator", "technician"]) {
  for (const [look, options] of looks) {
    const page = await visitor(browser, options);
    await judge(page, `${role}-${look}-sign-in`, "/sign-in");
    await signInAs(page, role);
    const of = Object.entries(await places(page, role)).filter(([, path]) => path !== undefined);
    page.faults.length = 0;
    for (const [name, path] of of) {
      await judge(page, `${role}-${look}-${name}`, path);
      if (look === "light") await isValid(page, `${role}-${name}`, path);
      looked += 1;
    }
    if (look === "light" && role === "dispatcher") await bytes(browser, role, Object.fromEntries(of));
    await page.context().close();
  }
}
for (const role of ["dispatcher", "technician"]) {
  for (const [look, options] of looks.filter(([look]) => look !== "dark")) {
    const page = await visitor(browser, options);
    await signInAs(page, role);
    const of = Object.entries(await places(page, role)).filter(([name, path]) => path !== undefined && german.includes(name));
    await page.locator(".foot button", { hasText: "Deutsch" }).click();
    await page.locator('html[lang="de"]').waitFor();
    page.faults.length = 0;
    for (const [name, path] of of) {
      await judge(page, `${role}-german-${look}-${name}`, path);
      check((await page.locator("html").getAttribute("lang")) === "de", `${name} is not in German`);
      if (look === "light") await isValid(page, `${role}-german-${name}`, path);
      looked += 1;
    }
    await page.context().close();
  }
}
await browser.close();
finish(`${looked} pages looked at; pictures in .local/browser/pictures`);
