// What pages of one kind must keep to beside what all do.

// On every page with a ledger the lines sum to the total; tables of numbers
// have units in their heads or captions.
export async function tables(page, say) {
  say(await page.evaluate(() => {
    const bad = [];
    const number = (c) => Number(c.textContent.trim().replace("−", "-"));
    document.querySelectorAll("table").forEach((t) => {
      if (!t.tFoot || !/total/.test(t.tFoot.textContent)) return;
      Array.from(t.tFoot.rows[0].cells).slice(1).forEach((total, k) => {
        const lines = Array.from(t.tBodies[0].rows, (r) => r.cells[k + 1].textContent.trim() ? number(r.cells[k + 1]) : 0);
        const sum = lines.reduce((a, b) => a + b, 0);
        if (!(Math.abs(sum - number(total)) <= 0.05 * (lines.length + 1))) bad.push(`column ${k + 1} sums to ${sum.toFixed(1)}, not ${number(total)}`);
      });
    });
    return bad;
  }), "ledgers sum to their totals");
}

// A passage: map, slider, schedule, ledger and all the parts that it can have.
export async function passage(page, say) {
  const m = await page.evaluate(() => {
    const map = Array.from(document.querySelectorAll("svg[data-chart=map]")).filter((e) => e.getBoundingClientRect().width > 0);
    const texts = map.length ? Array.from(map[0].querySelectorAll("text"), (t) => t.textContent) : [];
    const heads = Array.from(document.querySelectorAll("h2, h3"), (h) => h.textContent);
    return { maps: map.length, graticule: texts.filter((t) => /°/.test(t)).length, scale: texts.some((t) => /nm at/.test(t)), barbs: map.length ? map[0].querySelectorAll(".live path").length : 0,
      lacks: ["The answer", "Where and when", "Schedule", "Where the time comes from", "Speeds and foils along the way", "How long it must last to pay", "Limits and cautions", "Cautions", "Assumptions", "How sure this is", "What the model leaves out", "Inputs, so that it can be repeated", "Command"].filter((w) => !heads.includes(w)) };
  });
  say(m.maps === 1 && m.graticule >= 4 && m.scale && m.barbs > 0, "one map with graticule, scale and wind", JSON.stringify(m));
  say(m.lacks.map((w) => "without " + w), "has all its parts");

  const slider = page.locator("#when");
  await slider.focus();
  await page.keyboard.press("Home");
  const told = () => page.evaluate(() => ["m-utc", "m-local", "m-pos", "m-wind", "m-twa", "m-sea", "m-bsp", "m-base", "m-port", "m-stbd", "m-doing", "m-next"].map((i) => document.getElementById(i).textContent.trim()));
  const boats = () => page.evaluate(() => {
    const map = Array.from(document.querySelectorAll("svg[data-chart=map]")).find((e) => e.getBoundingClientRect().width > 0);
    return { at: Array.from(map.querySelectorAll(".live path.boat[transform]"), (e) => e.getAttribute("transform")), names: Array.from(map.querySelectorAll(".live text"), (e) => e.textContent).sort().join() };
  });
  const readings = [await told()], places = [await boats()];
  for (let k = 0; k < 3; k++) {
    for (let j = 0; j < 2; j++) await page.keyboard.press("PageUp");
    readings.push(await told());
    places.push(await boats());
  }
  say(readings.every((r) => r.every((x) => x.length > 0)), "time, place, wind, sea, speeds and both foils are told at every moment");
  say(new Set(readings.map((r) => [r[0], r[2]].join())).size === readings.length, "time and place move with the slider");
  say(places.every((p) => p.at.length === 2 && p.names === "baseline,plan"), "plan and baseline are both on the map, by name", JSON.stringify(places[0]));
  say([0, 1].every((i) => new Set(places.map((p) => p.at[i])).size === places.length), "both boats move with the slider", JSON.stringify(places.map((p) => p.at)));
  say(/UTC.*knots/.test(await slider.getAttribute("aria-valuetext") || ""), "the slider says its moment in words");

  const boxes = page.locator(".ticks input[type=checkbox]");
  const n = await boxes.count();
  if (n === 0) {
    say(await page.getByText("Nothing to do").count() === 1, "a schedule, or that there is nothing to do");
    return;
  }
  // the buttons go from change to change, and the foils are seen to change
  await slider.focus();
  await page.keyboard.press("Home");
  const foils = new Set([(await told()).slice(8, 10).join()]);
  await page.click("#next");
  const first = await told();
  for (let i = 0; i < 2; i++) {
    await slider.focus();
    await page.keyboard.press("ArrowRight");
  }
  for (let i = 0; i < 6; i++) { foils.add((await told()).slice(8, 10).join()); await slider.focus(); await page.keyboard.press("PageUp"); }
  await page.click("#prev");
  say(first[0] !== readings[0][0] && foils.size > 1, "the buttons go to a change, and the foils are seen to change", JSON.stringify(Array.from(foils)));

  await boxes.first().focus();
  await page.keyboard.press("Space");
  say(await boxes.first().isChecked(), "an action is ticked off from the keyboard");
  await page.keyboard.press("Space");
  const local = () => page.evaluate(() => Array.from(document.querySelectorAll("[data-min]"), (e) => e.textContent).join());
  await page.selectOption("#zone", "-3");
  const a = await local();
  await page.selectOption("#zone", "5");
  say(a !== await local(), "the schedule follows the chosen local time");
  say(await page.evaluate(() => {
    const t = Array.from(document.querySelectorAll(".ticks time"), (e) => e.getAttribute("datetime"));
    return t.length > 0 && t.every((x, i) => i === 0 || x >= t[i - 1]);
  }), "the schedule is in order of time");
}

// Speeds: every slider moves numbers and drawings, the boat with foils in does
// not mind the foil's, and the drawings keep to the boat file.
export async function speeds(page, say) {
  const state = () => page.evaluate(() => {
    const of = (id) => document.getElementById(id).innerHTML;
    const column = (k) => Array.from(document.querySelectorAll("#facts tr"), (r) => r.cells[k].textContent).join("|");
    return { set: column(1), inside: column(2), drawn: of("astern-a") + of("abeam-a"), inDrawn: of("astern-b") + of("abeam-b"), words: of("say"), sweep: of("sweep"), out: Array.from(document.querySelectorAll(".sliders output"), (o) => o.textContent).join("|") };
  });
  const move = async (id, keys) => { await page.focus("#s-" + id); for (const k of keys) await page.keyboard.press(k); };
  // a quarter up the wind and sea, at a reach, foil out, little rake
  for (const [id, keys] of [["twa", ["Home", ...Array(7).fill("PageUp")]], ["tws", ["Home", ...Array(4).fill("PageUp")]], ["hs", ["Home", "PageUp"]], ["ext", ["End"]], ["rake", ["Home", "ArrowRight"]]]) await move(id, keys);
  for (const [id, key] of [["tws", "PageUp"], ["twa", "PageUp"], ["hs", "PageUp"], ["rake", "ArrowRight"], ["ext", "Home"]]) {
    const a = await state();
    await move(id, [key]);
    const b = await state();
    say(a.set !== b.set && a.out !== b.out, `slider ${id} changes the numbers`);
    say(a.drawn !== b.drawn, `slider ${id} changes the drawings`);
    if (id === "rake" || id === "ext") say(a.inside === b.inside && a.inDrawn === b.inDrawn, `slider ${id} leaves the boat with foils in alone`);
    else say(a.inside !== b.inside && a.inDrawn !== b.inDrawn, `slider ${id} moves the boat with foils in too`);
    if (id !== "rake") say(a.sweep !== b.sweep, `slider ${id} changes the sweep over rake`);
  }
  await move("ext", ["End"]);
  const rakes = await page.evaluate(() => Number(document.getElementById("s-rake").max) + 1);
  await move("rake", ["Home"]);
  for (let i = 0; i < rakes; i++) {
    say(await geometry(page), "the drawings keep to the boat file and to the numbers told");
    await move("rake", ["ArrowRight"]);
  }
  const told = await page.evaluate(() => document.getElementById("rakesay").textContent);
  say(told.length > 60 && !/by −|−\d/.test(told) && /kn/.test(told), "what rake does is told in words", told);
}

// The drawn boat measured again: lengths by the embedded shape of the boat
// file, heights by the heel, trim and rise of the table. The readings are
// rounded; 3 cm allows for that.
const geometry = (page) => page.evaluate(() => {
  const sh = JSON.parse(document.getElementById("data").textContent).shape, rad = Math.PI / 180, bad = [];
  const fact = (name) => Number(Array.from(document.querySelectorAll("#facts tr")).find((r) => r.cells[0].textContent.startsWith(name)).cells[1].textContent.replace("−", "-"));
  const points = (s) => document.querySelector(s).getAttribute("points").trim().split(/\s+/).map((p) => p.split(",").map(Number));
  const near = (got, want, what, tol = 0.03) => { if (!(Math.abs(got - want) <= tol)) bad.push(`${what}: drawn ${got.toFixed(3)} m, should be ${want.toFixed(3)} m`); };
  const dist = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  if (Number.isNaN(fact("heel"))) return bad; // refused: nothing to draw
  const heel = fact("heel") * rad, trim = fact("trim") * rad, rise = fact("rise") / 100;
  const foil = points("#astern-a .foil"), section = points("#astern-a .hull"), profile = points("#abeam-a .hull");
  const ext = parseFloat(document.getElementById("o-ext").textContent) / 100;
  near(foil.slice(1).reduce((s, p, i) => s + dist(p, foil[i]), 0), sh.FoilSpanM * ext, "length of the foil");
  const lift = rise + sh.FoilRootForwardM * Math.sin(trim);
  near(-foil[0][1], lift + sh.FoilRootUpM * Math.cos(heel) - sh.FoilRootOutM * Math.sin(heel), "height of the foil's root");
  near(foil[0][0], sh.FoilRootOutM * Math.cos(heel) + sh.FoilRootUpM * Math.sin(heel), "foil's root to leeward");
  near(Math.atan2(foil[0][1] - foil[1][1], foil[1][0] - foil[0][0]), sh.FoilDihedralDeg * rad - heel, "angle of the foil (rad)", 0.004);
  const across = (i) => dist(section[i], section[section.length - i]);
  near(across(1), sh.PlaningBeamM, "beam of the bottom");
  near(across(2), sh.WaterlineBeamM, "beam on the waterline");
  near(-section[0][1], lift - sh.DraftCanoeM * Math.cos(heel), "height of the keel line");
  near(dist(profile[0], [profile[1][0], profile[1][1]]), Math.hypot(sh.LengthM, sh.BowFreeboardM - sh.FreeboardM), "length over the deck");
  const stern = -profile[0][1];
  near(stern, rise + sh.FreeboardM * Math.cos(trim) - sh.CentreOfGravityFromTransomM * Math.sin(trim), "height of the stern");
  near(-profile[1][1], rise + sh.BowFreeboardM * Math.cos(trim) + (sh.LengthM - sh.CentreOfGravityFromTransomM) * Math.sin(trim), "height of the bow");
  const under = fact("foil under water");
  let wet = 0, all = 0;
  for (let i = 1; i < foil.length; i++) {
    for (let k = 0; k < 1000; k++) if (foil[i - 1][1] + (k + 0.5) / 1000 * (foil[i][1] - foil[i - 1][1]) > 0) wet += dist(foil[i], foil[i - 1]) / 1000;
    all += dist(foil[i], foil[i - 1]);
  }
  near(100 * wet / all, under, "share under water (%)", 0.8);
  return bad;
});
