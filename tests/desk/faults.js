// What is wrong with a page: a list of sentences, empty is good. Given: the width of the screen. See browsing.py.
const faults = [];
const shown = (e) => { const r = e.getBoundingClientRect(), s = getComputedStyle(e);
  return r.width > 0 && r.height > 0 && s.visibility !== "hidden" && r.right > 0; };
const what = (e) => e.outerHTML.slice(0, 90);
const named = (e) => (e.getAttribute("aria-label") || (e.labels && [...e.labels].map(l => l.textContent).join("")) ||
  e.textContent.trim() || [...e.querySelectorAll("img")].map(i => i.alt).join(" ")).trim();
if (!document.documentElement.lang) faults.push("no language");
if (!document.title.trim()) faults.push("no title");
let before = 0;
for (const h of document.querySelectorAll("h1,h2,h3,h4,h5,h6")) {
  const level = Number(h.tagName[1]);
  if (level > before + 1) faults.push("heading skips a level: " + what(h));
  before = level;
}
if (document.querySelectorAll("h1").length !== 1) faults.push("not one h1");
if (document.querySelectorAll("main").length !== 1) faults.push("not one main");
for (const e of document.querySelectorAll("input:not([type=hidden]),select,textarea,button,a[href],audio"))
  if (!named(e)) faults.push("no name: " + what(e));
for (const e of document.querySelectorAll("svg"))
  if (e.getAttribute("aria-hidden") !== "true" && !(e.getAttribute("role") === "img" && e.getAttribute("aria-label")))
    faults.push("no text for an image: " + what(e));
for (const e of document.querySelectorAll("img")) if (!e.hasAttribute("alt")) faults.push("no alt: " + what(e));
for (const e of document.querySelectorAll("table"))
  if (!e.querySelector("th[scope]")) faults.push("no headers: " + what(e));
const ids = [...document.querySelectorAll("[id]")].map(e => e.id);
if (new Set(ids).size < ids.length) faults.push("an id twice");
for (const e of document.querySelectorAll("[aria-describedby],label[for]")) {
  const ids = (e.getAttribute("aria-describedby") || e.htmlFor).split(" ");
  if (!ids.every(id => document.getElementById(id))) faults.push("points to nothing: " + what(e));
}
for (const e of document.querySelectorAll("button,.button,nav a,input[type=radio],input[type=checkbox]")) {
  const r = e.getBoundingClientRect(), label = e.closest("label");
  const box = label ? label.getBoundingClientRect() : r;
  if (shown(e) && (box.width < 24 || box.height < 24)) faults.push("too small to press: " + what(e));
}
const channels = (color) => (color.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
const linear = (v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
const light = (c) => { const [r, g, b] = c.map(v => linear(v / 255));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const behind = (e) => { for (; e; e = e.parentElement) { const c = channels(getComputedStyle(e).backgroundColor);
  if (c.length < 4 || c[3] === 1) return c.slice(0, 3); }
  return channels(getComputedStyle(document.body).backgroundColor); };
const contrast = (one, two) => { const [a, b] = [light(one), light(two)];
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05); };
let texts = 0;
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  const e = walk.currentNode.parentElement;
  if (!walk.currentNode.textContent.trim() || !shown(e) || e.closest("svg,script")) continue;
  const s = getComputedStyle(e), ratio = contrast(channels(s.color).slice(0, 3), behind(e));
  const size = parseFloat(s.fontSize);
  const large = size >= 24 || (size >= 18.66 && Number(s.fontWeight) >= 700);
  texts += 1;
  if (ratio < (large ? 3 : 4.5)) faults.push("contrast " + ratio.toFixed(2) + ": " + what(e));
}
// Drawings of the desk's own; those of the pages that are files are painted by a library, one thing over another.
const inside = (css) => [...document.querySelectorAll("svg[role=img],.lives svg")].flatMap(e => [...e.querySelectorAll(css)]);
// In a drawing: a number in its dot, or a word on what is behind the drawing.
for (const e of inside("text")) {
  const dot = e.parentElement.querySelector(":scope > circle"), on = dot ? channels(getComputedStyle(dot).fill) : behind(e);
  const ratio = contrast(channels(getComputedStyle(e).fill).slice(0, 3), on.slice(0, 3));
  if (ratio < 4.5) faults.push("contrast " + ratio.toFixed(2) + " in a drawing: " + what(e));
}
// Where a field is: its border against what is around it; lines of a drawing against what they are on.
for (const e of document.querySelectorAll("input:not([type=hidden],[type=radio],[type=checkbox]),select,textarea")) {
  const ratio = contrast(channels(getComputedStyle(e).borderTopColor).slice(0, 3), behind(e.parentElement));
  if (shown(e) && ratio < 3) faults.push("border " + ratio.toFixed(2) + ": " + what(e));
}
for (const e of inside("polyline,line:not(.grid),circle,rect.watch,rect.repair,rect.halt,rect.within")) {
  const s = getComputedStyle(e), colors = [s.stroke, e.matches("polyline,line") ? "none" : s.fill];
  const ratio = Math.max(...colors.filter(c => c !== "none").map(c => contrast(channels(c).slice(0, 3), behind(e))));
  if (shown(e) && ratio < 3) faults.push("line " + ratio.toFixed(2) + ": " + what(e));
}
for (const e of document.querySelectorAll("[tabindex]"))
  if (e.tabIndex > 0) faults.push("an order of its own: " + what(e));
if (texts < 5) faults.push("hardly any text was looked at");
// A page that is too wide is widened to fit on a phone: so its width is held against the screen's, not the window's.
const screen = arguments[0];
if (document.documentElement.scrollWidth > screen) {
  const wide = [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > screen + 1);
  faults.push("sticks out sideways: " + document.documentElement.scrollWidth + ": " + wide.slice(-3).map(what).join(" "));
}
// A region of its own may be scrolled only for a drawing that would be too small to read else.
for (const e of document.querySelectorAll("body *:not(input,textarea)"))
  if (["auto", "scroll"].includes(getComputedStyle(e).overflowX) && shown(e) && !e.querySelector("svg") &&
      e.scrollWidth > e.clientWidth + 1)
    faults.push("is scrolled sideways by itself: " + what(e));
return faults;
