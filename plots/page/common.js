"use strict";
(function () {
  const root = document.documentElement;
  const button = document.getElementById("theme");
  if (!button) return;
  const dark = () => root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  const say = () => { button.textContent = dark() ? "Light page" : "Dark page"; };
  button.hidden = false;
  button.addEventListener("click", () => { root.dataset.theme = dark() ? "light" : "dark"; say(); });
  say();
})();
const svgNS = "http://www.w3.org/2000/svg";
function svgNode(parent, name, attrs, text) {
  const n = document.createElementNS(svgNS, name);
  for (const k in attrs) n.setAttribute(k, attrs[k]);
  if (text !== undefined) n.textContent = text;
  parent.appendChild(n);
  return n;
}
// a number with a true minus, and none before nought
function fix(x, k) {
  const s = x.toFixed(k);
  return (Number(s) === 0 ? s.replace("-", "") : s).replace("-", "−");
}
