// SPDX-License-Identifier: MIT
import { html, svg } from "./element.js";
import { growth } from "./size.js";

/**
 * A drawing whose units are pixels of a laptop and that is drawn anew when its width changes.
 *
 * @param draw  (width) => nodes of SVG.
 */
export function drawing({ name, title, height, draw }) {
  const unit = growth();
  const plane = svg("svg", { class: "plane", role: "group", "aria-label": title, "data-drawing": name, height: height * unit });
  const figure = html("figure", {}, html("figcaption", {}, title), plane);
  let width = 0;
  const again = () => {
    if (width === 0) return;
    plane.setAttribute("viewBox", `0 0 ${width} ${height}`);
    plane.replaceChildren(...draw(width));
  };
  new ResizeObserver(([{ contentRect }]) => {
    const wide = Math.floor(contentRect.width / unit);
    if (wide === width) return;
    width = wide;
    again();
  }).observe(plane);
  /** Where a pointer is, and how wide the drawing is there. */
  const under = ({ clientX, clientY }) => {
    const box = plane.getBoundingClientRect();
    return { x: (clientX - box.left) / unit, y: (clientY - box.top) / unit, width: box.width / unit };
  };
  return { node: figure, plane, again, under };
}

/** A linear scale from values to pixels, and back. */
export function scale([low, high], [from, to]) {
  const at = (value) => from + ((value - low) / (high - low)) * (to - from);
  at.back = (pixel) => low + ((pixel - from) / (to - from)) * (high - low);
  return at;
}
