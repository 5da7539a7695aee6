// What every page must keep to. Each function gets the open page and say(ok,
// what, more), where ok is true or a list of faults.

// The answer in words and three numbers, on the first screen.
export async function firstScreen(page, say, height) {
  const first = await page.evaluate(() => {
    const foot = (e) => (e ? Math.round(e.getBoundingClientRect().bottom + window.scrollY) : 1e9);
    const cells = Array.from(document.querySelectorAll(".three > div"), (d) => ["dt", "dd", ".more"].map((s) => d.querySelector(s).textContent.trim()));
    return { words: foot(document.querySelector(".headline")), three: foot(document.querySelector(".three")), cells };
  });
  say(first.words < height, "the answer in words stands on the first screen", `ends at ${first.words} px`);
  say(first.three < height, "the three numbers stand on the first screen", `end at ${first.three} px`);
  say(first.cells.length >= 3 && first.cells.length % 3 === 0 && first.cells.flat().every((t) => t.length > 0), "three numbers, each with its name and what it counts", JSON.stringify(first.cells));
}

// Text alternatives, heads of tables, labels of controls, order of headings.
export async function naming(page, say) {
  say(await page.evaluate(() => {
    const bad = [];
    if (!document.documentElement.lang) bad.push("no language");
    if (document.title.trim().length < 3) bad.push("no title");
    document.querySelectorAll("svg, img").forEach((e) => {
      if (e.closest("[aria-hidden=true]")) return;
      const label = e.getAttribute("aria-label") || e.getAttribute("alt") || "";
      if (label.trim().length < 20 || e.getAttribute("role") !== "img") bad.push("picture without alternative: " + e.outerHTML.slice(0, 80));
    });
    document.querySelectorAll("table").forEach((t) => {
      if (!t.querySelector("thead th[scope=col]") || !t.querySelector("tbody th[scope=row]")) bad.push("table without heads: " + t.textContent.slice(0, 40));
      t.querySelectorAll("th").forEach((h) => { if (!h.textContent.trim() || !h.scope) bad.push("empty head or one without scope in: " + t.textContent.slice(0, 40)); });
    });
    document.querySelectorAll("input, select, button").forEach((i) => {
      if (!(i.labels && i.labels.length) && !i.getAttribute("aria-label") && !i.textContent.trim()) bad.push("control without label: " + i.id);
    });
    document.querySelectorAll("section, [role=region]").forEach((s) => {
      const by = s.getAttribute("aria-labelledby");
      if (!s.getAttribute("aria-label") && !(by && document.getElementById(by))) bad.push("part without a name: " + s.textContent.slice(0, 40));
    });
    if (document.querySelectorAll("h1").length !== 1) bad.push("not exactly one h1");
    if (document.querySelectorAll("main").length !== 1) bad.push("not exactly one main");
    let last = 0;
    document.querySelectorAll("h1,h2,h3,h4,h5,h6").forEach((h) => {
      const level = Number(h.tagName[1]);
      if (level > last + 1) bad.push("heading skips a level: " + h.textContent);
      last = level;
    });
    const ids = Array.from(document.querySelectorAll("[id]"), (e) => e.id);
    ids.filter((x, i) => ids.indexOf(x) !== i).forEach((x) => bad.push("an id twice: " + x));
    document.querySelectorAll("a[href^='#']").forEach((a) => { if (!document.getElementById(a.hash.slice(1))) bad.push("link to nowhere: " + a.hash); });
    return bad;
  }), "pictures, tables, controls and parts are named, headings in order");
}

// Tab reaches every control, in the order in which they stand, and shows where
// it is; arrow keys move every slider.
export async function keyboard(page, say) {
  const all = await page.evaluate(() => {
    const reach = Array.from(document.querySelectorAll("a[href], button, input, select, [tabindex='0']")).filter((e) => e.getClientRects().length > 0 && !e.disabled);
    reach.forEach((e, i) => { e.dataset.reach = i; });
    document.activeElement.blur();
    return reach.length;
  });
  const order = [], faint = [];
  for (let i = 0; i < all + 3; i++) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement, s = getComputedStyle(e);
      return { at: e.dataset.reach, what: e.outerHTML.slice(0, 60), ring: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 };
    });
    if (at.at === undefined || order.includes(Number(at.at))) break;
    order.push(Number(at.at));
    if (!at.ring) faint.push("no ring: " + at.what);
  }
  say(order.length === all && all > 0, "Tab reaches every control", `${order.length} of ${all}`);
  say(order.every((x, i) => i === 0 || x > order[i - 1]), "in the order in which they stand");
  say(faint, "what has the focus shows it");
  const sliders = page.locator("input[type=range]:visible:enabled");
  for (let i = 0; i < await sliders.count(); i++) {
    const s = sliders.nth(i);
    await s.focus();
    await page.keyboard.press("Home");
    const a = await s.inputValue();
    await page.keyboard.press("ArrowRight");
    const b = await s.inputValue();
    await page.keyboard.press("ArrowLeft");
    say(a !== b && (await s.inputValue()) === a, `arrow keys move slider ${i + 1}`);
  }
}

// No text under 10 px at any width, no text of a picture outside it.
export async function textSizes(page, say) {
  say(await page.evaluate((least) => {
    const bad = [];
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let n = texts.nextNode(); n; n = texts.nextNode()) {
      const e = n.parentElement;
      if (!n.textContent.trim() || /^(SCRIPT|STYLE|NOSCRIPT|OPTION)$/.test(e.tagName) || e.getClientRects().length === 0) continue;
      const scale = e.ownerSVGElement ? Math.hypot(e.getScreenCTM().a, e.getScreenCTM().b) : 1;
      const px = parseFloat(getComputedStyle(e).fontSize) * scale;
      if (!(px >= least)) bad.push(px.toFixed(1) + " px: " + n.textContent.trim().slice(0, 50));
    }
    document.querySelectorAll("svg").forEach((s) => {
      const box = s.getBoundingClientRect();
      s.querySelectorAll("text").forEach((t) => {
        const b = t.getBoundingClientRect();
        if (b.width > 0 && (b.left < box.left - 1 || b.right > box.right + 1 || b.top < box.top - 1 || b.bottom > box.bottom + 1)) bad.push("outside its picture: " + t.textContent);
      });
    });
    return bad;
  }, 9.99), "texts of 10 px and more, inside their pictures");
}

// Every text against what lies under it: a contrast of 4.5 or more by W3C, Web
// Content Accessibility Guidelines 2.1 (2018), 1.4.3. Needs the whole page in
// the viewport.
export async function contrast(page, say) {
  say(await page.evaluate(() => {
    const lum = (c) => c.slice(0, 3).map((v) => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
    const rgba = (s) => { const m = (s || "").match(/[\d.]+/g); return s === "none" || !m ? null : [Number(m[0]), Number(m[1]), Number(m[2]), m.length > 3 ? Number(m[3]) : 1]; };
    const over = (a, b) => [0, 1, 2].map((i) => a[3] * a[i] + (1 - a[3]) * b[i]).concat(1);
    const paint = (e) => {
      const s = getComputedStyle(e);
      const c = e.ownerSVGElement ? (e.tagName === "text" ? null : rgba(s.fill)) : rgba(s.backgroundColor);
      return c && [c[0], c[1], c[2], c[3] * Number(s.opacity) * (e.ownerSVGElement ? Number(s.fillOpacity) : 1)];
    };
    document.querySelectorAll("svg, svg *").forEach((e) => { e.style.pointerEvents = "fill"; }); // what is filled counts, lines do not
    const bad = new Map();
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const range = document.createRange();
    for (let n = texts.nextNode(); n; n = texts.nextNode()) {
      const e = n.parentElement;
      if (!n.textContent.trim() || /^(SCRIPT|STYLE|NOSCRIPT|OPTION)$/.test(e.tagName) || e.getClientRects().length === 0) continue;
      range.selectNodeContents(n);
      const b = (e.ownerSVGElement ? e : range).getBoundingClientRect();
      const port = (e.closest(".scroll") || document.documentElement).getBoundingClientRect(), middle = b.left + b.width / 2;
      if (b.width === 0 || middle < port.left || middle > port.right || b.bottom < 0) continue; // scrolled out of sight
      const halo = e.ownerSVGElement && getComputedStyle(e).paintOrder.startsWith("stroke") && rgba(getComputedStyle(e).stroke);
      const stack = halo ? [] : document.elementsFromPoint(middle, b.top + b.height / 2);
      let ground = [255, 255, 255, 1];
      const under = halo ? [halo] : stack.filter((x) => x !== e).map(paint).filter((c) => c && c[3] > 0);
      for (const c of under.reverse()) ground = over(c, ground);
      const ink = rgba(e.ownerSVGElement ? getComputedStyle(e).fill : getComputedStyle(e).color);
      const x = lum(over(ink, ground)), y = lum(ground), ratio = (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
      if (!(ratio >= 4.5)) {
        const where = e.ownerSVGElement ? (e.ownerSVGElement.dataset.chart || e.ownerSVGElement.id) : e.tagName + "." + e.className;
        const key = where + " " + ratio.toFixed(1) + " on rgb(" + ground.slice(0, 3).map(Math.round) + ")";
        bad.set(key, (bad.get(key) || "") + " “" + n.textContent.trim().slice(0, 24) + "”");
      }
    }
    document.querySelectorAll("svg, svg *").forEach((e) => { e.style.pointerEvents = ""; });
    return Array.from(bad, ([k, v]) => k + ":" + v.slice(0, 120));
  }), "texts stand out from what lies under them by 4.5 or more");
}

// The button turns light to dark and back.
export async function theme(page, say, scheme) {
  const ground = () => page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor);
  const a = await ground();
  await page.click("#theme");
  const b = await ground();
  await page.click("#theme");
  say(a !== b && a === await ground(), "the button turns the page " + (scheme === "dark" ? "light" : "dark") + " and back");
}

export async function noNonsense(page, say) {
  const bad = await page.evaluate(() => (document.body.innerText + Array.from(document.querySelectorAll("[aria-label]"), (e) => e.getAttribute("aria-label")).join("\n")).match(/.{0,30}(\b(NaN|undefined|Infinity|null)\b|−0(\.0+)?(?![\d.])|%!).{0,20}/g) || []);
  say(bad, "no NaN, undefined, null, minus nought in the text");
}

// On paper: all inside the sheet, no control, A4, and the PDF itself.
export async function paper(page, say) {
  const size = page.viewportSize();
  await page.emulateMedia({ media: "print" });
  await page.setViewportSize({ width: 688, height: 1000 }); // A4 less its margins
  const sheet = await page.evaluate(() => ({
    out: Array.from(document.querySelectorAll("main *, header *")).filter((e) => e.getClientRects().length > 0 && !e.closest("svg svg, svg g, .skip") && e.getBoundingClientRect().right > 689)
      .map((e) => e.tagName + " " + Math.round(e.getBoundingClientRect().right) + " px: " + e.textContent.trim().slice(0, 40)),
    cut: Array.from(document.querySelectorAll("main *")).filter((e) => /auto|scroll|hidden/.test(getComputedStyle(e).overflowX) && !e.ownerSVGElement && e.tagName !== "svg" && e.scrollWidth > e.clientWidth + 1).map((e) => e.className + ": " + e.textContent.trim().slice(0, 40)),
    tall: Array.from(document.querySelectorAll("svg, tr, .ticks li")).filter((e) => e.getBoundingClientRect().height > 960).map((e) => e.tagName + " " + Math.round(e.getBoundingClientRect().height) + " px: " + (e.getAttribute("aria-label") || e.textContent).slice(0, 40)),
    shown: Array.from(document.querySelectorAll("button, input[type=range], nav, select")).filter((e) => e.getClientRects().length > 0).length,
    dark: getComputedStyle(document.documentElement).backgroundColor,
  }));
  say(sheet.out, "nothing runs off an A4 sheet");
  say(sheet.cut, "nothing is cut off on paper");
  say(sheet.tall, "no picture or row is taller than a sheet");
  say(sheet.shown === 0, "no controls on paper", sheet.shown + " shown");
  say(/^rgb\(255, 255, 255\)$/.test(sheet.dark), "white on paper", sheet.dark);
  const pdf = await page.pdf({ format: "A4", preferCSSPageSize: true });
  const boxes = Array.from(pdf.toString("latin1").matchAll(/\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]/g), (m) => [Number(m[1]), Number(m[2])]);
  say(boxes.length > 0 && boxes.every(([w, h]) => Math.abs(w - 595.3) < 1.5 && Math.abs(h - 841.9) < 1.5), "prints to upright A4 sheets", JSON.stringify(boxes.slice(0, 3)));
  await page.emulateMedia({ media: "screen" });
  await page.setViewportSize(size);
  return pdf;
}
