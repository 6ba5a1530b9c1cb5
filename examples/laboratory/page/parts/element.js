// SPDX-License-Identifier: MIT
const svg_space = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value != null) node.setAttribute(name, value);
  }
  node.append(...children.flat().filter((child) => child != null));
  return node;
}

/** An element of HTML; attributes that begin with "on" are listeners. */
export const html = (tag, attributes = {}, ...children) => fill(document.createElement(tag), attributes, children);

/** An element of SVG. */
export const svg = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS(svg_space, tag), attributes, children);

/** Text whose lines do not end within a quantity. */
export const unbroken = (text) => text.replaceAll(" %", "\u00a0%").replaceAll("± ", "±\u00a0");

/** Text in which [[words]] link to the glossary. */
export function with_words(text) {
  return text.split(/\[\[(.+?)\]\]/).map((part, i) =>
    i % 2 === 0 ? unbroken(part) : html("a", { class: "word", href: `#words/${part.replaceAll(" ", "-").toLowerCase()}` }, part));
}

/** A number as people write it; what is no number is a dash. */
export function shown(value, digits) {
  if (value === null || !Number.isFinite(value)) return "–";
  return value.toFixed(digits).replace(/^-(0\.?0*)$/, "$1").replace("-", "−");
}

/** What colours mean, [[colour, words], ..]. */
export const legend = (entries) => html("ul", { class: "legend" }, ...entries.map(([colour, words]) =>
  html("li", {}, html("i", { class: "swatch", style: `background:${colour}` }), words)));
