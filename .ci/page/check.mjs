// Opens each page given on the command line in headless Chromium and checks
// what a reader depends on. Screenshots go to the folder named by --out.
//
//   node check.mjs --out DIR page.html …
//
// Exit code 0: every check passed. The browser is found in $CHROMIUM or at
// /usr/bin/chromium.
import { chromium } from "playwright-core";
import { mkdirSync } from "node:fs";
import { basename, resolve } from "node:path";
import { pathToFileURL } from "node:url";

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

let failures = 0;
const check = (ok, what) => {
  if (!ok) failures++;
  console.log((ok ? "ok    " : "FAIL  ") + what);
};

for (const file of pages) {
  const name = basename(file).replace(/\.html?$/, "");
  for (const width of [390, 1280]) {
    for (const scheme of ["light", "dark"]) {
      const context = await browser.newContext({ viewport: { width, height: width === 390 ? 844 : 800 }, colorScheme: scheme, deviceScaleFactor: width === 390 ? 2 : 1 });
      const page = await context.newPage();
      page.setDefaultTimeout(180000); // a busy machine is no fault of the page
      const complaints = [];
      const requests = [];
      page.on("console", (m) => { if (m.type() === "error" || m.type() === "warning") complaints.push(m.text()); });
      page.on("pageerror", (e) => complaints.push(String(e)));
      page.on("request", (r) => { if (!/^(file|data):/.test(r.url())) requests.push(r.url()); });
      await page.goto(pathToFileURL(resolve(file)).href);
      const at = `${name} at ${width} px, ${scheme}: `;

      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      check(wide <= 0, at + `no horizontal scroll (${wide} px too wide)`);

      const named = await page.evaluate(() => {
        const bad = [];
        document.querySelectorAll("svg, img").forEach((e) => {
          if (e.getAttribute("aria-hidden") === "true") return;
          const label = e.getAttribute("aria-label") || e.getAttribute("alt") || (e.querySelector("title") && e.querySelector("title").textContent) || "";
          if (label.trim().length < 10) bad.push(e.outerHTML.slice(0, 80));
        });
        document.querySelectorAll("table").forEach((t) => { if (!t.querySelector("th[scope]")) bad.push("table without header: " + t.textContent.slice(0, 40)); });
        document.querySelectorAll("input, select").forEach((i) => {
          if (!(i.labels && i.labels.length) && !i.getAttribute("aria-label")) bad.push("control without label: " + i.id);
        });
        if (document.querySelectorAll("h1").length !== 1) bad.push("not exactly one h1");
        let last = 1;
        document.querySelectorAll("h1,h2,h3,h4").forEach((h) => {
          const level = Number(h.tagName[1]);
          if (level > last + 1) bad.push("heading skips a level: " + h.textContent);
          last = level;
        });
        const ids = Array.from(document.querySelectorAll("[id]"), (e) => e.id);
        if (new Set(ids).size !== ids.length) bad.push("an id twice");
        return bad;
      });
      check(named.length === 0, at + "pictures, tables and controls are named" + named.map((b) => "\n        " + b).join(""));

      // text of pictures as it is seen: not too small, inside its picture
      const small = await page.evaluate(() => {
        const bad = [];
        document.querySelectorAll("svg.pic").forEach((s) => {
          const box = s.getBoundingClientRect();
          if (box.width === 0) return;
          s.querySelectorAll("text").forEach((t) => {
            const b = t.getBoundingClientRect();
            if (b.left < box.left - 1 || b.right > box.right + 1 || b.top < box.top - 1 || b.bottom > box.bottom + 1) bad.push("outside: " + t.textContent);
            const size = parseFloat(getComputedStyle(t).fontSize) * box.width / s.viewBox.baseVal.width;
            if (size < 7) bad.push(size.toFixed(1) + " px: " + t.textContent);
          });
        });
        return bad;
      });
      check(small.length === 0, at + "picture texts are readable and inside" + small.slice(0, 5).map((b) => "\n        " + b).join(""));

      await page.screenshot({ path: `${out}/${name}-${width}-${scheme}-first.png` });

      const sliders = page.locator("input[type=range]:visible");
      const n = await sliders.count();
      check(n > 0 || /^(trial|card|refit)/.test(name), at + "has a slider");
      const state = () => page.evaluate(() => Array.from(document.querySelectorAll("dl.moment dd, svg .live, output, .boats svg"), (e) => e.innerHTML).join("|"));
      for (let i = 0; i < n; i++) {
        const s = sliders.nth(i);
        await s.focus();
        await page.keyboard.press("Home");
        const a = await state();
        await page.keyboard.press("End");
        const b = await state();
        check(a !== b && a.length > 40, at + `slider ${i + 1} changes what is shown`);
        await page.keyboard.press("Home");
        for (let k = 0; k < 4; k++) await page.keyboard.press("PageUp");
      }
      const bad = await page.evaluate(() => /\b(NaN|undefined|Infinity|null)\b/.test(document.body.innerText));
      check(!bad, at + "no NaN, undefined or null in the text");

      // what only the page of a passage has
      if (await page.locator("svg[data-chart=map]").count()) {
        const m = await page.evaluate(() => {
          const seen = (e) => e.getBoundingClientRect().width > 0;
          const map = Array.from(document.querySelectorAll("svg[data-chart=map]")).filter(seen);
          const texts = map.length ? Array.from(map[0].querySelectorAll("text"), (t) => t.textContent) : [];
          return { maps: map.length, graticule: texts.filter((t) => /°/.test(t)).length, scale: texts.some((t) => /nm at/.test(t)), barbs: map.length ? map[0].querySelectorAll(".live path").length : 0,
            words: ["The answer", "Schedule", "Where the time comes from", "Limits and cautions", "How sure this is", "Inputs, so that it can be repeated"].filter((w) => !Array.from(document.querySelectorAll("h2"), (h) => h.textContent).includes(w)) };
        });
        check(m.maps === 1 && m.graticule >= 4 && m.scale && m.barbs > 0, at + `one map with graticule, scale and wind (${JSON.stringify(m)})`);
        check(m.words.length === 0, at + "has all its parts" + m.words.map((w) => "\n        without " + w).join(""));

        const slider = page.locator("#when");
        await slider.focus();
        await page.keyboard.press("Home");
        const told = () => page.evaluate(() => ["m-utc", "m-pos", "m-wind", "m-sea", "m-bsp", "m-port", "m-stbd"].map((i) => document.getElementById(i).textContent.trim()));
        const readings = [await told()];
        for (let k = 0; k < 3; k++) {
          for (let j = 0; j < 2; j++) await page.keyboard.press("PageUp");
          readings.push(await told());
        }
        check(readings.every((r) => r.every((x) => x.length > 0)), at + "time, place, wind, sea, speed and both foils are told at every moment");
        check(new Set(readings.map((r) => r.slice(0, 2).join())).size === readings.length, at + "time and place move with the slider");
        check(/UTC.*knots/.test(await slider.getAttribute("aria-valuetext") || ""), at + "the slider says its moment in words");

        const boxes = page.locator(".ticks input[type=checkbox]");
        if (await boxes.count()) {
          await boxes.first().focus();
          await page.keyboard.press("Space");
          check(await boxes.first().isChecked(), at + "an action is ticked off from the keyboard");
          await page.keyboard.press("Space");
          const local = () => page.evaluate(() => Array.from(document.querySelectorAll("[data-min]"), (e) => e.textContent).join());
          await page.selectOption("#zone", "-3");
          const a = await local();
          await page.selectOption("#zone", "5");
          check(a !== await local(), at + "the schedule follows the chosen local time");
          const order = await page.evaluate(() => {
            const t = Array.from(document.querySelectorAll(".ticks time"), (e) => e.getAttribute("datetime"));
            return t.length > 0 && t.every((x, i) => i === 0 || x >= t[i - 1]);
          });
          check(order, at + "the schedule is in order of time");
        }
      }

      // text against its ground: WCAG contrast of plain texts
      const faint = await page.evaluate(() => {
        const lum = (c) => c.slice(0, 3).map((v) => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
        const rgb = (s) => (s.match(/[\d.]+/g) || []).map(Number);
        const bad = new Set();
        document.querySelectorAll("p,li,td,th,dt,dd,h1,h2,h3,b,.quiet,.fact,.more,a,button").forEach((e) => {
          if (!e.textContent.trim() || e.getBoundingClientRect().width === 0) return;
          let g = e, ground = [255, 255, 255];
          for (; g; g = g.parentElement) { const c = rgb(getComputedStyle(g).backgroundColor); if (c.length && c[3] !== 0) { ground = c; break; } }
          const a = lum(rgb(getComputedStyle(e).color)), b = lum(ground);
          const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
          if (ratio < 4.5) bad.add(e.tagName + "." + e.className + " " + ratio.toFixed(1));
        });
        return Array.from(bad);
      });
      check(faint.length === 0, at + "texts stand out from their ground by 4.5 or more" + faint.slice(0, 5).map((b) => "\n        " + b).join(""));

      // answer in the first screenful
      const first = await page.evaluate(() => {
        const e = document.querySelector(".three");
        return e ? e.getBoundingClientRect().bottom + window.scrollY : 0;
      });
      check(first < (width === 390 ? 844 : 800), at + `the three numbers stand in the first screenful (end at ${Math.round(first)} px)`);

      await page.screenshot({ path: `${out}/${name}-${width}-${scheme}.png`, fullPage: true });
      check(complaints.length === 0, at + "no console errors" + complaints.map((c) => "\n        " + c).join(""));
      check(requests.length === 0, at + "asks nothing of the network" + requests.map((c) => "\n        " + c).join(""));
      if (width === 1280 && scheme === "light") {
        // on paper: everything inside the sheet, nothing that only a screen can do
        await page.emulateMedia({ media: "print" });
        await page.setViewportSize({ width: 688, height: 1000 }); // A4 less its margins
        const paper = await page.evaluate(() => ({
          wide: document.documentElement.scrollWidth - document.documentElement.clientWidth,
          shown: Array.from(document.querySelectorAll("button, input[type=range], nav, select")).filter((e) => e.getBoundingClientRect().width > 0 && getComputedStyle(e).display !== "none").length,
        }));
        check(paper.wide <= 0, at + `fits an A4 sheet (${paper.wide} px too wide)`);
        check(paper.shown === 0, at + `no controls on paper (${paper.shown} shown)`);
        await page.pdf({ path: `${out}/${name}-a4.pdf`, format: "A4", preferCSSPageSize: true });
      }
      await context.close();
    }
  }
}
await browser.close();
console.log(failures === 0 ? "all checks passed" : failures + " checks failed");
process.exit(failures === 0 ? 0 : 1);
