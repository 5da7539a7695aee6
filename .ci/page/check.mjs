// Opens each page given on the command line in headless Chromium, at the width
// of a telephone and of a desk, light and dark, and checks what a reader
// depends on. Screenshots and the printed sheets go to the folder of --out.
//
//   node check.mjs --out DIR page.html …
//
// Exit code 0: every check passed. The browser is found in $CHROMIUM or at
// /usr/bin/chromium.
import { chromium } from "playwright-core";
import { mkdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { basename, dirname, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { contrast, firstScreen, keyboard, naming, noNonsense, paper, textSizes, theme } from "./common.mjs";
import { passage, speeds, tables } from "./kinds.mjs";

const args = process.argv.slice(2);
let out = "out";
const pages = [];
for (let i = 0; i < args.length; i++) {
  if (args[i] === "--out") out = args[++i];
  else pages.push(args[i]);
}
if (pages.length === 0) {
  console.error("usage: node check.mjs --out DIR page.html …");
  process.exit(2);
}
mkdirSync(out, { recursive: true });

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});

const counts = { passed: 0, failed: 0 };
// a check is true, or a list that must be empty: what is wrong, at most six
// lines of it
function check(ok, what, more = "") {
  const bad = Array.isArray(ok) ? ok : ok ? [] : [more];
  if (bad.length === 0) { counts.passed++; return; }
  counts.failed++;
  console.log("FAIL  " + what + bad.filter(Boolean).slice(0, 6).map((b) => "\n        " + b).join("") + (bad.length > 6 ? `\n        and ${bad.length - 6} more` : ""));
}

async function open(file, options) {
  const context = await browser.newContext(options);
  await context.setOffline(true);
  const page = await context.newPage();
  page.setDefaultTimeout(180000); // a busy machine is no fault of the page
  const complaints = [], requests = [];
  page.on("console", (m) => { if (m.type() === "error" || m.type() === "warning") complaints.push(m.text()); });
  page.on("pageerror", (e) => complaints.push(String(e)));
  page.on("request", (r) => { if (!/^(file|data):/.test(r.url())) requests.push(r.url()); });
  await page.goto(pathToFileURL(resolve(file)).href);
  return { context, page, complaints, requests };
}

for (const file of pages) {
  const name = basename(dirname(resolve(file))) + "-" + basename(file).replace(/\.html?$/, "");
  const before = { ...counts };
  check(statSync(file).size < 3 << 20, name + ": under 3 MB", `${statSync(file).size} bytes`);
  check(/[a-f0-9]{64}/.test(readFileSync(file, "utf8")), name + ": names its inputs with their hashes");

  for (const width of [390, 1280]) {
    for (const colorScheme of ["light", "dark"]) {
      const height = width === 390 ? 844 : 800;
      const { context, page, complaints, requests } = await open(file, { viewport: { width, height }, colorScheme, deviceScaleFactor: width === 390 ? 2 : 1 });
      const at = `${name} at ${width} px, ${colorScheme}: `;
      const say = (ok, what, more) => check(ok, at + what, more);

      await firstScreen(page, say, height);
      await page.screenshot({ path: `${out}/${name}-${width}-${colorScheme}-first.png` });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      say(wide <= 0, "no horizontal scroll", `${wide} px too wide`);
      if (colorScheme === "light") {
        await naming(page, say);
        await keyboard(page, say);
      }
      const kind = await page.evaluate(() => document.querySelector("main").dataset.page);
      if (kind === "passage") await passage(page, say);
      else if (kind === "speeds") await speeds(page, say);
      else say(["trial", "study"].includes(kind), "is of a kind that has its checks", String(kind));
      await tables(page, say);
      await noNonsense(page, say);

      // the whole page on the screen at once, so that what lies under a text
      // can be asked for
      await page.setViewportSize({ width, height: await page.evaluate(() => document.documentElement.scrollHeight) });
      await textSizes(page, say);
      await contrast(page, say);
      await page.setViewportSize({ width, height });
      await theme(page, say, colorScheme);

      if (colorScheme === "light") await page.screenshot({ path: `${out}/${name}-${width}.png`, fullPage: true });
      say(complaints, "no console errors");
      say(requests, "asks nothing of the network");
      if (width === 1280 && colorScheme === "light") writeFileSync(`${out}/${name}-a4.pdf`, await paper(page, say));
      await context.close();
    }
  }

  // scripts switched off: the answer stands, and nothing that needs them shows
  const { context, page } = await open(file, { viewport: { width: 390, height: 844 }, javaScriptEnabled: false });
  const dead = await page.locator("button:visible, input[type=range]:visible, select:visible").count();
  check(dead === 0, name + ": without scripts no control shows that needs them", dead + " show");
  check(await page.locator(".headline").first().isVisible(), name + ": without scripts the answer stands");
  await context.close();
  console.log(`${name}: ${counts.passed - before.passed} checks passed, ${counts.failed - before.failed} failed`);
}
await browser.close();
console.log(counts.failed === 0 ? `all ${counts.passed} checks passed` : counts.failed + " checks failed");
process.exit(counts.failed === 0 ? 0 : 1);
