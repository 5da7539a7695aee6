(function () {
  const d = JSON.parse(document.getElementById("data").textContent);
  const $ = (id) => document.getElementById(id);
  const table = {};
  for (const k in d.table) {
    const raw = atob(d.table[k].data), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    const view = new DataView(bytes.buffer);
    table[k] = new Float64Array(raw.length / 2);
    for (let i = 0; i < table[k].length; i++) table[k][i] = view.getInt16(2 * i, true) * d.table[k].unit;
  }
  const exts = Array.from(new Set(d.settings.map((s) => s[0]))).sort((a, b) => a - b);
  const rakesOf = (e) => d.settings.map((s, i) => [s[1], i]).filter(([, i]) => d.settings[i][0] === e).sort((a, b) => a[0] - b[0]);
  const n = [d.tws.length, d.twa.length, d.hs.length];

  function locate(ax, x) {
    if (ax.length === 1) return [0, 0];
    let i = 0;
    while (i < ax.length - 2 && x >= ax[i + 1]) i++;
    return [i, Math.max(0, Math.min(1, (x - ax[i]) / (ax[i + 1] - ax[i])))];
  }
  // linear in wind, angle and sea between the points of the table; refused when
  // the nearest point is
  function look(setting, tws, twa, hs) {
    const a = [locate(d.tws, tws), locate(d.twa, twa), locate(d.hs, hs)];
    const out = { bsp: 0, heel: 0, trim: 0, leeway: 0, rise: 0, load: 0, lift: 0, bow: 0, above: 0 };
    let near = -1, best = -1, sum = 0;
    for (let c = 0; c < 8; c++) {
      let w = 1, at = setting;
      for (let k = 0; k < 3; k++) {
        const up = (c >> k) & 1;
        w *= up ? a[k][1] : 1 - a[k][1];
        at = at * n[k] + Math.min(a[k][0] + up, n[k] - 1);
      }
      if (w > best) { best = w; near = at; }
      if (w <= 0 || !table.ok[at]) continue;
      sum += w;
      for (const k in out) out[k] += w * (k === "above" ? table.above[at] || table.bsp[at] : table[k][at]);
    }
    if (sum > 0) for (const k in out) out[k] /= sum;
    out.ok = table.ok[near] !== 0 && sum > 0;
    out.rule = d.rules[table.rule[near]] || "";
    out.sail = d.sails[table.sail[near]] || "none";
    return out;
  }

  const s = { tws: $("s-tws"), twa: $("s-twa"), hs: $("s-hs"), ext: $("s-ext"), rake: $("s-rake") };
  const setup = (e, min, max, step, value) => { e.min = min; e.max = max; e.step = step; e.value = value; };
  setup(s.tws, d.tws[0], d.tws[n[0] - 1], 0.5, 16);
  setup(s.twa, d.twa[0], d.twa[n[1] - 1], 1, 110);
  setup(s.hs, d.hs[0], d.hs[n[2] - 1] > d.hs[0] ? d.hs[n[2] - 1] : d.hs[0] + 0.1, 0.1, d.hs[Math.min(1, n[2] - 1)]);
  setup(s.ext, 0, Math.max(1, exts.length - 1), 1, exts.length - 1);
  setup(s.rake, 0, 1, 1, 0);
  if (n[2] === 1) s.hs.disabled = true;

  function rakes() {
    const list = rakesOf(exts[Math.min(Number(s.ext.value), exts.length - 1)]);
    const keep = Number(s.rake.value);
    s.rake.max = Math.max(1, list.length - 1);
    s.rake.disabled = list.length < 2;
    s.rake.value = Math.min(keep, list.length - 1);
    return list;
  }
  const P = (pts) => pts.map((p) => p[0].toFixed(3) + "," + p[1].toFixed(3)).join(" ");
  const sh = d.shape, rad = Math.PI / 180;

  // the foil from its root outwards, in boat axes (out to leeward, up)
  function foilLine(ext) {
    const pts = [[sh.FoilRootOutM, sh.FoilRootUpM]];
    let l = sh.FoilSpanM * ext;
    const tip = Math.min(sh.FoilTipSpanM || 0, 0.9 * l);
    for (const [len, deg] of [[l - tip, sh.FoilDihedralDeg], [tip, sh.FoilTipDihedralDeg]]) {
      if (len <= 0) continue;
      const a = pts[pts.length - 1];
      pts.push([a[0] + len * Math.cos(deg * rad), a[1] + len * Math.sin(deg * rad)]);
    }
    return pts;
  }
  // boat axes at the foil's place along the boat to a drawing from astern: x
  // right, y down, the surface at y = 0; the height of a point is rise +
  // forward·sin(trim) + up·cos(heel) − out·sin(heel), as in the boat model
  function asternAt(p) {
    const c = Math.cos(p.heel * rad), q = Math.sin(p.heel * rad), up = p.rise + (sh.FoilRootForwardM || 0) * Math.sin(p.trim * rad);
    return ([x, y]) => [x * c + y * q, x * q - y * c - up];
  }
  // how far bow and stern stand above their heights at rest, cm
  const bowUp = (p) => 100 * (p.rise + sh.BowForwardM * Math.sin(p.trim * rad));
  const sternUp = (p) => 100 * (p.rise - sh.CentreOfGravityFromTransomM * Math.sin(p.trim * rad));
  // the parts of the foil under water, as pairs of points in the drawing, and
  // the share of its length
  function wetFoil(p, ext) {
    const pts = foilLine(ext).map(asternAt(p));
    const wet = [];
    let under = 0, all = 0;
    for (let i = 1; i < pts.length; i++) {
      let a = pts[i - 1], b = pts[i];
      const l = Math.hypot(b[0] - a[0], b[1] - a[1]);
      all += l;
      if (a[1] <= 0 && b[1] <= 0) continue;
      const cut = (u, v) => { const t = u[1] / (u[1] - v[1]); return [u[0] + t * (v[0] - u[0]), 0]; };
      if (a[1] < 0) a = cut(a, b); else if (b[1] < 0) b = cut(a, b);
      under += Math.hypot(b[0] - a[0], b[1] - a[1]);
      wet.push([a, b]);
    }
    return { pts, wet, share: all > 0 ? under / all : 0 };
  }

  // axes of drawings: x right, y down, metres; the water's surface is y = 0
  function water(svg, x0, x1, y1) {
    svgNode(svg, "rect", { x: x0, y: 0, width: x1 - x0, height: y1, fill: "var(--c-gain)", opacity: 0.55 });
    svgNode(svg, "line", { x1: x0, y1: 0, x2: x1, y2: 0, stroke: "var(--c-plan)", "stroke-width": 0.05 });
  }
  const arrow = (svg, x, y, len) => {
    const g = len > 0 ? 1 : -1;
    svgNode(svg, "line", { x1: x, y1: y, x2: x, y2: y - len, stroke: "var(--c-plan)", "stroke-width": 0.14 });
    svgNode(svg, "polygon", { points: P([[x - 0.24, y - len + 0.05 * g], [x + 0.24, y - len + 0.05 * g], [x, y - len - 0.45 * g]]), fill: "var(--c-plan)" });
  };
  const metresPerTf = 0.35;
  const cm = (x) => (fix(x, 0).startsWith("−") || fix(x, 0) === "0" ? "" : "+") + fix(x, 0) + " cm";
  // a caption under a drawing and the same words for who cannot see it
  function tell(view, side, what, words) {
    $("say-" + view + "-" + side).textContent = what + ": " + words + ".";
    $(view + "-" + side).setAttribute("aria-label", "The boat from " + view + ". " + what + ": " + words + ".");
  }
  function astern(side, p, ext) {
    const svg = $("astern-" + side);
    svg.textContent = "";
    const reach = Math.max(7, (sh.FoilRootOutM || 0) + (sh.FoilSpanM || 0) + 0.5); // room for the foil
    svg.setAttribute("viewBox", [-7, -4, 7 + reach, 8].join(" "));
    const at = asternAt(p);
    const line = (A, B, col, w) => svgNode(svg, "line", { x1: A[0], y1: A[1], x2: B[0], y2: B[1], stroke: col, "stroke-width": w, "stroke-linecap": "round" });
    const cant = sh.KeelCantDeg * rad;
    const bulb = at([-sh.KeelArmM * Math.sin(cant), -sh.DraftCanoeM - sh.KeelArmM * Math.cos(cant)]);
    line(at([0, -sh.DraftCanoeM]), bulb, "var(--c-muted)", 0.12);
    svgNode(svg, "circle", { cx: bulb[0], cy: bulb[1], r: sh.BulbDiameterM / 2, fill: "var(--c-muted)" });
    line(at([0, sh.FreeboardM]), at([0, sh.MastHeightM]), "var(--c-muted)", 0.16);
    const half = [[sh.PlaningBeamM / 2, -sh.DraftCanoeM + Math.tan(sh.DeadriseDeg * rad) * sh.PlaningBeamM / 2], [sh.WaterlineBeamM / 2, 0], [sh.BeamM / 2, sh.FreeboardM]];
    const port = half.map(([x, y]) => [-x, y]).reverse();
    svgNode(svg, "polygon", { points: P([[0, -sh.DraftCanoeM], ...half, ...port].map(at)), fill: "var(--c-rest)", stroke: "var(--c-ink)", "stroke-width": 0.06, "class": "hull" });
    let f = null;
    if (ext > 0) {
      f = wetFoil(p, ext);
      line(at(half[0]), f.pts[0], "var(--c-active)", 0.08);
      svgNode(svg, "polyline", { points: P(f.pts), fill: "none", stroke: "var(--c-active)", "stroke-width": 0.14, "stroke-linecap": "round", "class": "foil" });
    }
    water(svg, -7, reach, 4.2);
    if (f) {
      for (const [a, b] of f.wet) line(a, b, "var(--c-active)", 0.28);
      if (Math.abs(p.lift) > 0.05) {
        const m = f.wet.length ? f.wet[0] : [f.pts[0], f.pts[1]];
        arrow(svg, (m[0][0] + m[1][0]) / 2, (m[0][1] + m[1][1]) / 2, p.lift * metresPerTf);
      }
    }
    tell("astern", side, ext > 0 ? "Foil as set" : "Foils in", "heel " + fix(p.heel, 0) + "°" + (f ? ", lift " + fix(p.lift, 1) + " tf, " + fix(100 * f.share, 0) + " % of the foil under water" : ""));
  }
  function abeam(side, p, ext, rake) {
    const svg = $("abeam-" + side);
    svg.textContent = "";
    const L = sh.LengthM, cg = sh.CentreOfGravityFromTransomM, D = sh.DraftCanoeM;
    svg.setAttribute("viewBox", [-1, -3.4, L + 2, 8.6].join(" "));
    const c = Math.cos(p.trim * rad), q = Math.sin(p.trim * rad);
    const at = ([x, y]) => [cg + (x - cg) * c - y * q, -((x - cg) * q + y * c) - p.rise];
    const keel = at([cg, -D]), end = at([cg, -D - sh.KeelArmM * Math.cos((sh.KeelCantDeg + p.heel) * rad)]);
    svgNode(svg, "line", { x1: keel[0], y1: keel[1], x2: end[0], y2: end[1], stroke: "var(--c-muted)", "stroke-width": sh.FinChordM });
    svgNode(svg, "ellipse", { cx: end[0], cy: end[1], rx: sh.BulbLengthM / 2, ry: sh.BulbDiameterM / 2, fill: "var(--c-muted)", transform: "rotate(" + (-p.trim) + " " + end[0] + " " + end[1] + ")" });
    const mast = [at([0.56 * L, sh.FreeboardM]), at([0.55 * L, sh.MastHeightM])];
    svgNode(svg, "line", { x1: mast[0][0], y1: mast[0][1], x2: mast[1][0], y2: mast[1][1], stroke: "var(--c-muted)", "stroke-width": 0.2 });
    const profile = [[0, sh.FreeboardM], [L, sh.BowFreeboardM], [L * 0.992, 0.25], [0.9 * L, -0.45 * D], [0.7 * L, -0.9 * D], [0.5 * L, -D], [0.2 * L, -0.7 * D], [0, -0.25 * D]];
    svgNode(svg, "polygon", { points: P(profile.map(at)), fill: "var(--c-rest)", stroke: "var(--c-ink)", "stroke-width": 0.07, "class": "hull" });
    svgNode(svg, "polygon", { points: P(profile.map(([x, y]) => [x, -y])), fill: "none", stroke: "var(--c-muted)", "stroke-width": 0.05, "stroke-dasharray": "0.1 0.18" });
    water(svg, -1, L + 1, 5.4);
    if (ext > 0) {
      // the middle of the part under water, at its depth; seen edge on
      const f = wetFoil(p, ext), m = f.wet.length ? f.wet[0] : [f.pts[0], f.pts[1]];
      const o = [cg + sh.FoilRootForwardM, (m[0][1] + m[1][1]) / 2], t = (p.trim + rake) * rad, a = sh.FoilChordM / 2;
      svgNode(svg, "line", { x1: o[0] - a * Math.cos(t), y1: o[1] + a * Math.sin(t), x2: o[0] + a * Math.cos(t), y2: o[1] - a * Math.sin(t), stroke: "var(--c-active)", "stroke-width": 0.24, "stroke-linecap": "round" });
      if (Math.abs(p.lift) > 0.05) arrow(svg, o[0], o[1], p.lift * metresPerTf);
    }
    tell("abeam", side, ext > 0 ? "Foil as set" : "Foils in", "bow " + cm(bowUp(p)) + ", stern " + cm(sternUp(p)) + ", the hull carries " + fix(100 * p.load, 0) + " %");
  }
  // what more rake does from one setting to another, in words
  function rise(a, b) {
    const bow = bowUp(b[1]) - bowUp(a[1]), stern = sternUp(b[1]) - sternUp(a[1]);
    const way = (x) => (Math.abs(x) < 0.5 ? "stays" : x > 0 ? "comes up by " + fix(x, 0) + " cm" : "goes down by " + fix(-x, 0) + " cm");
    return "the bow " + way(bow) + ", the stern " + way(stern);
  }
  function rakeWords(rows) {
    const best = rows.reduce((a, x) => (x[1].bsp > a[1].bsp + 0.005 ? x : a)), first = rows[0], last = rows[rows.length - 1];
    if (rows.every((x) => Math.abs(x[1].lift) < 0.05)) return "Here the foil is out of the water: rake does nothing.";
    const out = [];
    if (best !== first) {
      out.push("From " + first[0] + "° to " + best[0] + "° of rake the foil lifts " + fix(best[1].lift, 1) + " tf instead of " + fix(first[1].lift, 1) + ": " + rise(first, best)
        + ", the hull carries " + fix(100 * best[1].load, 0) + " % of the weight instead of " + fix(100 * first[1].load, 0) + " %, and she gains " + fix(best[1].bsp - first[1].bsp, 1) + " kn.");
    }
    if (best === last) {
      out.push("Here more rake helps up to the last degree.");
      return out.join(" ");
    }
    const lost = fix(best[1].bsp - last[1].bsp, 1);
    const then = " At " + last[0] + "° " + rise(best, last) + ", and she loses " + lost + " kn.";
    if (lost === "0.0") out.push("Past " + best[0] + "° nothing more is gained: what the hull saves, the foil’s own drag takes.");
    else if (last[1].rule === "foil load") out.push("Past " + best[0] + "° the foil would bear too much in a gust: the sails are eased to keep it within its limit." + then);
    else if (last[1].rule && last[1].rule !== "heel" && last[1].rule !== best[1].rule) out.push("Past " + best[0] + "° a limit rules (" + last[1].rule + ")." + then);
    else out.push("Past " + best[0] + "° the foil’s own drag, and the stern behind a high bow, cost more than the hull saves." + then);
    return out.join(" ");
  }
  function sweep(list, tws, twa, hs, ext, chosen, inside) {
    const svg = $("sweep");
    svg.textContent = "";
    const rows = list.map(([r, i]) => [r, look(i, tws, twa, hs)]).filter((x) => x[1].ok);
    const text = (x, y, t, anchor, fill) => svgNode(svg, "text", { x, y, "text-anchor": anchor, fill: fill || "var(--c-muted)", "font-size": 10.5 }, t);
    if (rows.length < 2 || ext === 0) {
      const words = ext === 0 ? "Put the foil out to see what rake does." : "Here a limit refuses all rakes but one.";
      text(180, 165, words, "middle");
      $("rakesay").textContent = "";
      svg.setAttribute("aria-label", words);
      return;
    }
    const r0 = rows[0][0], r1 = rows[rows.length - 1][0];
    const X = (r) => 58 + (r - r0) / (r1 - r0) * 232;
    // one panel: a scale, grid lines and lines of values by rake
    function panel(top, bottom, title, values, steps) {
      let lo = Math.min(...values), hi = Math.max(...values);
      const step = steps.find((s) => (hi - lo) / s <= 4) || steps[steps.length - 1];
      lo = Math.floor(lo / step) * step; hi = Math.max(lo + step, Math.ceil(hi / step) * step);
      const Y = (v) => bottom - (v - lo) / (hi - lo) * (bottom - top);
      text(6, top - 10, title, "start", "var(--c-ink)");
      for (let v = lo; v <= hi + 1e-9; v += step) {
        svgNode(svg, "line", { x1: 42, x2: 306, y1: Y(v), y2: Y(v), stroke: Math.abs(v) < 1e-9 ? "var(--c-muted)" : "var(--c-grid)" });
        text(37, Y(v) + 3.7, fix(v, step < 1 ? 1 : 0), "end");
      }
      return Y;
    }
    function curve(Y, value, colour, dash, name, nameY) {
      svgNode(svg, "polyline", { points: P(rows.map((x) => [X(x[0]), Y(value(x[1]))])), fill: "none", stroke: colour, "stroke-width": 2, "stroke-dasharray": dash });
      text(311, nameY + 3.7, name, "start", colour);
      const here = rows.find((x) => x[0] === chosen);
      if (here) svgNode(svg, "circle", { cx: X(here[0]), cy: Y(value(here[1])), r: 4, fill: "var(--c-active)", stroke: "var(--c-paper)" });
    }
    const end = rows[rows.length - 1][1], apart = (a, b) => (Math.abs(a - b) < 13 ? (a <= b ? [(a + b) / 2 - 6.5, (a + b) / 2 + 6.5] : [(a + b) / 2 + 6.5, (a + b) / 2 - 6.5]) : [a, b]);
    const V = panel(26, 140, "boat speed (kn)", rows.map((x) => x[1].bsp).concat(inside.bsp), [0.1, 0.2, 0.5, 1, 2, 5, 10]);
    const [va, vb] = apart(V(end.bsp), V(inside.bsp));
    svgNode(svg, "line", { x1: 42, x2: 306, y1: V(inside.bsp), y2: V(inside.bsp), stroke: "var(--c-base)", "stroke-width": 1.5, "stroke-dasharray": "5 3" });
    text(311, vb + 3.7, "foils in", "start", "var(--c-base)");
    curve(V, (p) => p.bsp, "var(--c-plan)", "none", "foil out", va);
    const H = panel(184, 290, "height above rest (cm)", rows.map((x) => bowUp(x[1])).concat(rows.map((x) => sternUp(x[1])), 0), [2, 5, 10, 20, 50, 100]);
    const [ha, hb] = apart(H(bowUp(end)), H(sternUp(end)));
    curve(H, bowUp, "var(--c-wind)", "none", "bow", ha);
    curve(H, sternUp, "var(--c-sea)", "2 2", "stern", hb);
    rows.forEach((x, i) => {
      if (rows.length <= 11 || i % 2 === 0) { text(X(x[0]), 155, String(x[0]), "middle"); text(X(x[0]), 305, String(x[0]), "middle"); }
    });
    text(306, 322, "rake (°)", "end", "var(--c-ink)");
    $("rakesay").textContent = rakeWords(rows);
    svg.setAttribute("aria-label", "Against rake: " + rows.map((x) => x[0] + "°: " + fix(x[1].bsp, 1) + " kn, bow " + cm(bowUp(x[1])) + ", stern " + cm(sternUp(x[1]))).join("; ") + ". Foils in: " + fix(inside.bsp, 1) + " kn.");
  }
  const facts = [["boat speed (kn)", "bsp", 1], ["heel (°)", "heel", 1], ["trim, bow up (°)", "trim", 2], ["leeway (°)", "leeway", 1], ["weight that the hull carries (%)", "load", 0, 100],
    ["vertical foil lift (tonnes-force)", "lift", 1], ["rise of the hull (cm)", "rise", 0, 100], ["bow immersions per hour", "bow", 1]];
  function show() {
    const list = rakes();
    const tws = Number(s.tws.value), twa = Number(s.twa.value), hs = Number(s.hs.value);
    const ext = exts[Math.min(Number(s.ext.value), exts.length - 1)];
    const [rake, i] = list[Math.min(Number(s.rake.value), list.length - 1)];
    const a = look(i, tws, twa, hs), b = look(0, tws, twa, hs);
    const words = { tws: fix(tws, 1) + " kn", twa: twa + "°", hs: fix(hs, 1) + " m", ext: ext === 0 ? "in" : fix(100 * ext, 0) + " %", rake: ext === 0 ? "no foil out" : rake + "°" };
    for (const k in s) { $("o-" + k).textContent = words[k]; s[k].setAttribute("aria-valuetext", words[k]); }
    $("where").textContent = "The boat in " + words.tws + " of true wind at " + words.twa + ", waves " + words.hs + ", leeward foil " + (ext === 0 ? "in" : "out " + words.ext + ", rake " + words.rake);
    const gain = a.bsp - b.bsp;
    $("say").textContent = !a.ok ? "This setting is refused here" + (a.rule ? ": " + a.rule + "." : ".")
      : i === 0 ? "Foils in: " + fix(b.bsp, 1) + " kn."
      : Math.abs(gain) < 0.05 ? "The foil makes no difference here: " + fix(a.bsp, 1) + " kn."
      : fix(a.bsp, 1) + " kn: the foil " + (gain > 0 ? "gains " : "costs ") + fix(Math.abs(gain), 1) + " kn.";
    const body = $("facts");
    body.textContent = "";
    const row = (name, x, y) => {
      const tr = document.createElement("tr"), th = document.createElement("th");
      th.scope = "row"; th.textContent = name; tr.appendChild(th);
      for (const v of [x, y]) { const td = document.createElement("td"); td.className = "n"; td.textContent = v; tr.appendChild(td); }
      body.appendChild(tr);
    };
    for (const [name, k, dec, times] of facts) row(name, a.ok ? fix(a[k] * (times || 1), dec) : "refused", b.ok ? fix(b[k] * (times || 1), dec) : "refused");
    row("foil under water (% of its length)", a.ok && ext > 0 ? fix(100 * wetFoil(a, ext).share, 0) : "–", "–");
    row("speed kept when coming from faster (kn)", a.ok && a.above > a.bsp + 0.1 ? fix(a.above, 1) : "–", b.above > b.bsp + 0.1 ? fix(b.above, 1) : "–");
    row("sails", a.ok ? a.sail : "refused", b.sail);
    row("limit that rules", a.rule || "none", b.rule || "none");
    const drawn = a.ok ? a : b, out = a.ok ? ext : 0; // refused: as with foils in
    astern("a", drawn, out); astern("b", b, 0);
    abeam("a", drawn, out, rake); abeam("b", b, 0, 0);
    sweep(list, tws, twa, hs, ext, rake, b);
  }
  document.querySelectorAll(".noscript-hidden").forEach((e) => { e.hidden = false; });
  const first = rakesOf(exts[exts.length - 1]);
  s.rake.max = first.length - 1;
  s.rake.value = Math.floor((first.length - 1) / 2);
  for (const k in s) s[k].addEventListener("input", show);
  show();
})();
