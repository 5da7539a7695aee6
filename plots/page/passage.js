(function () {
  const d = JSON.parse(document.getElementById("data").textContent);
  const $ = (id) => document.getElementById(id);
  const slider = $("when");
  const T = 0, LAT = 1, LON = 2, BSP = 3, TWS = 4, TWA = 5, FROM = 6, HS = 7, HEEL = 8, DIST = 9, COG = 10, EXT = 11,
    BOARD = 12, PORT = 13, STBD = 14, DOING = 15, RULED = 16, SAIL = 17, LIFT = 18, BOW = 19, GUST = 20, CUR = 21, CURTO = 22, WORK = 23;
  const wrap180 = (x) => ((x + 180) % 360 + 360) % 360 - 180;
  const pad = (n) => String(n).padStart(2, "0");
  const days = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

  // the row before a time, and the share of the way to the next one
  function find(rows, t) {
    let lo = 0, hi = rows.length - 1;
    if (t <= rows[0][0]) return [0, 0];
    if (t >= rows[hi][0]) return [hi, 0];
    while (hi - lo > 1) {
      const m = (lo + hi) >> 1;
      if (rows[m][0] <= t) lo = m; else hi = m;
    }
    return [lo, (t - rows[lo][0]) / (rows[hi][0] - rows[lo][0])];
  }
  function boatAt(rows, t) {
    const [i, f] = find(rows, t);
    const a = rows[i], b = rows[Math.min(i + 1, rows.length - 1)];
    const p = a.slice();
    for (const k of [LAT, BSP, TWS, TWA, HS, HEEL, DIST, LIFT, BOW]) p[k] = a[k] + f * (b[k] - a[k]);
    for (const k of [LON, FROM, COG]) p[k] = a[k] + f * wrap180(b[k] - a[k]);
    p[FROM] = (p[FROM] + 360) % 360;
    p.done = t >= rows[rows.length - 1][0];
    return p;
  }
  function date(min, offset) {
    const t = new Date(d.dep + (min + offset) * 60000);
    return days[t.getUTCDay()] + " " + t.getUTCDate() + " " + months[t.getUTCMonth()] + " " + pad(t.getUTCHours()) + ":" + pad(t.getUTCMinutes());
  }

  // local time: the report's zone, this device's, or a whole-hour offset
  const zone = $("zone");
  function offsetAt(min) {
    const z = zone ? zone.value : "0";
    if (z === "report") {
      let o = 0;
      for (const [m, v] of d.zone) if (m <= min) o = v;
      return o;
    }
    if (z === "device") return -new Date(d.dep + min * 60000).getTimezoneOffset();
    return Number(z) * 60;
  }
  if (zone) {
    const add = (value, text) => { const o = document.createElement("option"); o.value = value; o.textContent = text; zone.appendChild(o); };
    zone.textContent = "";
    if (d.zone && d.zone.length) add("report", d.zoneName);
    add("device", "this device's time");
    for (let h = -12; h <= 14; h++) add(String(h), "UTC" + (h < 0 ? "−" : "+") + pad(Math.abs(h)) + ":00");
    const times = () => document.querySelectorAll("[data-min]").forEach((e) => {
      const m = Number(e.dataset.min);
      e.textContent = date(m, offsetAt(m));
    });
    zone.addEventListener("change", () => { times(); show(); });
    times();
  }

  // the map: one layer over each of the two pictures
  const layers = [];
  document.querySelectorAll("svg[data-chart=map]").forEach((s) => {
    const k = s.classList.contains("narrow") ? 1 : 0;
    layers.push({ g: svgNode(s, "g", { "class": "live", "aria-hidden": "true" }), v: d.views[k], taken: d.taken[k] || [] });
  });
  const merc = (lat) => Math.log(Math.tan(Math.PI / 4 + lat * Math.PI / 360)) * 180 / Math.PI;
  function place(v, lat, lon) {
    const mid = (v[4] + v[5]) / 2, l = mid + wrap180(lon - mid);
    return [v[0] + (l - v[4]) / (v[5] - v[4]) * (v[2] - v[0]), v[3] - (merc(lat) - v[6]) / (v[7] - v[6]) * (v[3] - v[1])];
  }
  // a wind barb as path data: staff to where the wind comes from; half feather
  // 5 kn, full 10, pennant 50; feathers change side south of the equator
  function barb(x, y, kn, from, south, size) {
    let n = Math.round(kn / 5);
    const r = size / 9;
    if (n === 0) return "M" + (x - r) + " " + y + "a" + r + " " + r + " 0 1 0 " + 2 * r + " 0a" + r + " " + r + " 0 1 0 " + -2 * r + " 0";
    const a = from * Math.PI / 180, sx = Math.sin(a), sy = -Math.cos(a), k = south ? -1 : 1;
    const ox = k * Math.cos(a), oy = k * Math.sin(a);
    const at = (q, o) => (x + q * sx + o * ox).toFixed(1) + " " + (y + q * sy + o * oy).toFixed(1);
    let p = "M" + at(0, 0) + "L" + at(size, 0), q = size;
    for (; n >= 10; n -= 10) {
      p += "M" + at(q, 0) + "L" + at(q, .42 * size) + "L" + at(q - .2 * size, 0) + "Z";
      q -= .26 * size;
    }
    if (q < size && n > 0) q -= .04 * size;
    for (; n >= 2; n -= 2) { p += "M" + at(q, 0) + "L" + at(q + .16 * size, .42 * size); q -= .14 * size; }
    if (n === 1) {
      if (q === size) q -= .14 * size;
      p += "M" + at(q, 0) + "L" + at(q + .08 * size, .21 * size);
    }
    return p;
  }
  function windAt(t) {
    const w = d.wind;
    const rows = w.t.map((x) => [x]);
    const [i, f] = find(rows, t);
    const j = Math.min(i + 1, w.t.length - 1);
    return (k) => {
      if (w.u[i][k] === -999 || w.u[j][k] === -999) return null;
      return [w.u[i][k] + f * (w.u[j][k] - w.u[i][k]), w.v[i][k] + f * (w.v[j][k] - w.v[i][k])];
    };
  }
  function boat(g, v, p, colour, solid, name, above, taken) {
    const [x, y] = place(v, p[LAT], p[LON]);
    svgNode(g, "path", {
      "class": "boat", d: "M0 -9L5.5 7L0 4L-5.5 7Z", transform: "translate(" + x.toFixed(1) + " " + y.toFixed(1) + ") rotate(" + p[COG].toFixed(0) + ")",
      fill: solid ? "var(--c-" + colour + ")" : "var(--c-paper)", stroke: solid ? "var(--c-paper)" : "var(--c-" + colour + ")", "stroke-width": solid ? 1 : 1.8,
    });
    // the name goes where it covers no other text, the nearest place first
    const w = name.length * 5.6, up = above ? -1 : 1;
    let best = null, least = Infinity;
    for (const d of [11, 22, 34, 48]) {
      for (const [sx, sy] of [[1, up], [-1, up], [1, -up], [-1, -up], [1, 0], [-1, 0], [0, up], [0, -up]]) {
        const cx = x + sx * (d + (sx ? w / 2 - 3 : 0)), cy = y + sy * (d + 2);
        const q = [cx - w / 2, cy - 6, cx + w / 2, cy + 6];
        if (q[0] < v[0] || q[2] > v[2] || q[1] < v[1] || q[3] > v[3]) continue;
        const hits = taken.filter((o) => q[0] < o[2] && q[2] > o[0] && q[1] < o[3] && q[3] > o[1]).length;
        if (hits < least) { least = hits; best = q; }
      }
      if (least === 0) break;
    }
    if (!best) return;
    taken.push(best);
    svgNode(g, "text", { x: ((best[0] + best[2]) / 2).toFixed(1), y: (best[3] - 2.8).toFixed(1), "text-anchor": "middle", fill: "var(--c-" + colour + ")" }, name);
  }
  function draw(t, plan, base) {
    const wind = d.wind ? windAt(t) : null;
    for (const { g, v, taken } of layers) {
      g.textContent = "";
      let path = "";
      if (wind) {
        const apart = 34;
        const dLon = Math.abs(d.wind.lon[1] - d.wind.lon[0]) / (v[5] - v[4]) * (v[2] - v[0]);
        const dLat = Math.abs(d.wind.lat[1] - d.wind.lat[0]) / (v[7] - v[6]) * (v[3] - v[1]);
        const ex = Math.max(1, Math.ceil(apart / dLon)), ey = Math.max(1, Math.ceil(apart / dLat));
        for (let r = 0; r < d.wind.lat.length; r += ey) {
          for (let c = 0; c < d.wind.lon.length; c += ex) {
            const [x, y] = place(v, d.wind.lat[r], d.wind.lon[c]);
            if (!(x > v[0] + 14 && x < v[2] - 14 && y > v[1] + 14 && y < v[3] - 14)) continue;
            const uv = wind(r * d.wind.lon.length + c);
            if (!uv) continue;
            const kn = Math.hypot(uv[0], uv[1]), from = Math.atan2(-uv[0], -uv[1]) * 180 / Math.PI;
            // the staff and its feathers must not run through a label
            const ex2 = kn ? x - uv[0] / kn * 22 : x, ey2 = kn ? y + uv[1] / kn * 22 : y;
            const l = Math.min(x, ex2) - 4, rr = Math.max(x, ex2) + 4, tt = Math.min(y, ey2) - 4, bb = Math.max(y, ey2) + 4;
            if (taken.some((q) => l < q[2] && rr > q[0] && tt < q[3] && bb > q[1])) continue;
            path += barb(x, y, kn, from, d.wind.lat[r] < 0, 20);
          }
        }
        svgNode(g, "path", { d: path, fill: "var(--c-wind)", stroke: "var(--c-wind)", "stroke-width": .9, opacity: .75 });
      }
      const [x, y] = place(v, plan[LAT], plan[LON]);
      svgNode(g, "path", { "class": "boat", d: barb(x, y, plan[TWS], plan[FROM], plan[LAT] < 0, 30), fill: "var(--c-ink)", stroke: "var(--c-ink)", "stroke-width": 1.3 });
      const names = taken.concat([[x - 9, y - 9, x + 9, y + 9]]);
      if (base) {
        const [bx, by] = place(v, base[LAT], base[LON]);
        names.push([bx - 9, by - 9, bx + 9, by + 9]);
        boat(g, v, base, "base", false, "baseline", false, names);
      }
      boat(g, v, plan, "plan", true, "plan", true, names);
    }
  }
  function degMin(x, pos, neg, width) {
    const m = Math.round(Math.abs(x) * 60);
    return String(Math.floor(m / 60)).padStart(width, "0") + "°" + pad(m % 60) + "′\u00a0" + (x < 0 ? neg : pos);
  }
  function span(min) {
    const m = Math.round(Math.abs(min)), s = m < 90 ? m + " min" : Math.floor(m / 60) + " h " + pad(m % 60) + " min";
    return (Math.round(min) === 0 ? "" : min < 0 ? "−" : "+") + s;
  }
  const put = (id, text) => { const e = $(id); if (e) e.textContent = text; };

  function show() {
    const t = Number(slider.value);
    const p = boatAt(d.plan, t), b = d.base && d.base.length > 1 ? boatAt(d.base, t) : null;
    draw(t, p, b);
    const when = date(t, 0) + " UTC";
    slider.setAttribute("aria-valuetext", when + ", boat speed " + p[BSP].toFixed(1) + " knots");
    put("m-utc", when);
    put("m-local", date(t, offsetAt(t)));
    put("m-pos", degMin(p[LAT], "N", "S", 2) + "  " + degMin(wrap180(p[LON]), "E", "W", 3));
    put("m-wind", p[TWS].toFixed(0) + " kn from " + String(Math.round(p[FROM]) % 360).padStart(3, "0") + "°" + (p[GUST] > p[TWS] ? ", gusts " + p[GUST].toFixed(0) : ""));
    put("m-current", p[CUR] > 0.04 ? p[CUR].toFixed(1) + " kn towards " + String(Math.round(p[CURTO]) % 360).padStart(3, "0") + "°" : "none");
    put("m-work", p[WORK].toFixed(0) + " kJ");
    put("m-twa", p[TWA].toFixed(0) + "° from " + d.words[p[BOARD]]);
    put("m-sea", p[HS].toFixed(1) + " m");
    put("m-bsp", p.done ? "arrived" : p[BSP].toFixed(1) + " kn");
    put("m-base", b ? (b.done ? "arrived" : b[BSP].toFixed(1) + " kn") : "not given");
    put("m-lead", b ? fix(p[DIST] - b[DIST], 1) + " nm" : "not given");
    put("m-port", d.words[p[PORT]] + (d.words[p[BOARD]] === "starboard" ? " (leeward)" : ""));
    put("m-stbd", d.words[p[STBD]] + (d.words[p[BOARD]] === "port" ? " (leeward)" : ""));
    put("m-heel", p[HEEL].toFixed(0) + "°");
    put("m-lift", p[LIFT].toFixed(1) + " tf");
    put("m-bow", p[BOW].toFixed(1) + " per hour");
    put("m-sail", d.words[p[SAIL]] || "not given");
    put("m-doing", d.words[p[DOING]] || "sailing");
    put("m-ruled", d.words[p[RULED]] || "none");
    if (d.run && d.run.length) {
      const [i, f] = find(d.run, t), j = Math.min(i + 1, d.run.length - 1);
      put("m-gain", span(d.run[i][1] + f * (d.run[j][1] - d.run[i][1])));
    }
    let next = -1;
    d.act.forEach((a, i) => { if (next < 0 && a[0] > t) next = i; });
    put("m-next", next < 0 ? "none left" : date(d.act[next][0], 0) + " UTC, " + d.act[next][1]);
    document.querySelectorAll(".ticks li").forEach((li) => li.classList.toggle("now", next >= 0 && !!li.querySelector("[data-act='" + (next + 1) + "']")));
  }
  slider.max = String(Math.ceil(d.end / 5) * 5);
  slider.addEventListener("input", show);
  const jump = (dir) => {
    const t = Number(slider.value);
    let to = dir > 0 ? Number(slider.max) : 0;
    if (dir > 0) { for (const a of d.act) if (a[0] > t + 0.01) { to = a[0]; break; } } else { for (const a of d.act) if (a[0] < t - 5) to = a[0]; }
    slider.value = String(Math.ceil(to / 5) * 5);
    show();
  };
  $("prev").addEventListener("click", () => jump(-1));
  $("next").addEventListener("click", () => jump(1));
  document.querySelectorAll(".noscript-hidden").forEach((e) => { e.hidden = false; });

  // ticks stay with this browser where it allows that
  const key = "ticks:" + d.dep + ":" + d.act.length;
  const boxes = Array.from(document.querySelectorAll(".ticks input"));
  let ticks = [];
  try { ticks = JSON.parse(localStorage.getItem(key) || "[]"); } catch (e) { ticks = []; }
  boxes.forEach((b, i) => {
    if (ticks[i]) b.checked = true;
    b.addEventListener("change", () => {
      try { localStorage.setItem(key, JSON.stringify(boxes.map((x) => x.checked))); } catch (e) { /* kept on the page only */ }
    });
  });
  slider.value = d.act.length ? String(Math.ceil(d.act[0][0] / 5) * 5) : "0";
  show();
})();
