// Looks at the page as a reader with a small screen, a keyboard or a screen reader would; tells what is wrong.
const faults = [];
const fault = (what, e) => faults.push(what + (e ? ": " + e.outerHTML.slice(0, 80) : ""));
const all = (q) => [...document.querySelectorAll(q)];
if (document.documentElement.lang !== "en") fault("no language");
if (!document.title.trim()) fault("no title");
if (document.documentElement.scrollWidth > innerWidth) fault("wider than the screen, " + document.documentElement.scrollWidth);
let level = 0;
for (const h of all("h1,h2,h3,h4,h5,h6")) {
  const now = +h.tagName[1];
  if (now > level + 1) fault("a level of headings is left out", h);
  level = now;
}
if (all("h1").length !== 1) fault("not one h1");
if (all("main").length !== 1) fault("not one main");
const ids = all("[id]").map((e) => e.id);
if (new Set(ids).size !== ids.length) fault("an id twice");
for (const a of all("a[href^='#']")) if (!document.getElementById(a.hash.slice(1))) fault("a link to nowhere", a);
for (const e of all("[aria-labelledby]")) if (!document.getElementById(e.getAttribute("aria-labelledby"))) fault("a label is missing", e);
for (const t of all("th")) if (!t.scope) fault("a head without scope", t);
for (const t of all("table")) if (!t.querySelector("thead th")) fault("a table without heads", t);
for (const i of all("input:not([type=hidden]),select,textarea")) if (!i.getAttribute("aria-label") && (!i.labels || !i.labels.length || !i.labels[0].textContent.trim())) fault("no label", i);
for (const s of all("svg,img")) if (s.getAttribute("aria-hidden") !== "true" && !s.getAttribute("aria-label") && !s.querySelector("title") && !s.alt) fault("a picture without a name", s);
for (const e of all("body *")) {
  const c = getComputedStyle(e);
  if (/auto|scroll/.test(c.overflowX) && e.scrollWidth > e.clientWidth && e.tabIndex < 0) fault("scrolls but takes no focus", e);
}
for (const b of all("button,a[href],summary")) if (!(b.textContent.trim() || b.getAttribute("aria-label"))) fault("no name", b);
for (const b of all("button,.button,input[type=checkbox],input[type=radio],input[type=range],summary")) {
  const r = b.getBoundingClientRect();
  // 24 by 24 pixels: WCAG 2.2, criterion 2.5.8; a label around or beside it adds to it.
  if (r.width && r.height < 24 && !(b.labels && [...b.labels].some((l) => l.getBoundingClientRect().height >= 24))) fault("a target under 24 pixels", b);
}
const numbers = (c) => (c.match(/[\d.]+/g) || []).map(Number);
const light = (c) => {
  const [r, g, b] = c.map((v) => ((v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ground = (e) => {
  for (; e; e = e.parentElement) {
    const c = numbers(getComputedStyle(e).backgroundColor);
    if (c.length === 3 || c[3] === 1) return c.slice(0, 3);
  }
  return [255, 255, 255];
};
let texts = 0;
for (const e of all("body *")) {
  if (e.closest("svg,script,style,.unseen")) continue;
  if (![...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())) continue;
  texts += 1;
  const a = light(numbers(getComputedStyle(e).color).slice(0, 3));
  const b = light(ground(e));
  const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  if (ratio < 4.5) fault("contrast " + ratio.toFixed(2), e);
}
if (texts < 10) fault("hardly any text");
const scheme = matchMedia("(prefers-color-scheme:dark)").matches ? "dark" : "light";
const dark = light(ground(document.body)) < 0.2;
if (dark !== (scheme === "dark")) fault("the page does not follow the scheme");
parent.postMessage("width " + innerWidth + " " + scheme + "; faults: " + (faults.join(" | ") || "none"), "*");
