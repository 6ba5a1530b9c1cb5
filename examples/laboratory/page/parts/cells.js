// SPDX-License-Identifier: MIT
import { ink } from "./colours.js";
import { shown, svg } from "./element.js";
import { drawing } from "./plane.js";

const height = 430, left = 44, top = 8, below = 46;

/** Place of a value among breakpoints that are drawn equally far apart, 0 at the middle of the first. */
function place_among(points, value) {
  let i = 0;
  while (i < points.length - 2 && value > points[i + 1]) ++i;
  return i + Math.min(1, Math.max(0, (value - points[i]) / (points[i + 1] - points[i])));
}

/**
 * A map drawn cell by cell, speed to the right and throttle upwards. `set({axes, cell, driven})` draws it anew.
 *
 * @param axes    {speed_rpm, throttle_pct}, breakpoints.
 * @param cell    (index) => {fill, text, dark}: colour, a few letters, whether the letters are white.
 * @param driven  {rpm, throttle_pct}, where the car was; the last point is where it is. None: left out.
 */
export function cells({ name, title }) {
  let now = null;
  const picture = drawing({ name, title, height, draw });

  function draw(width) {
    if (!now) return [];
    const { axes: { speed_rpm, throttle_pct }, cell, driven } = now;
    const wide = (width - left - 14) / speed_rpm.length, high = (height - top - below) / throttle_pct.length;
    const x = (column) => left + (column + 0.5) * wide, y = (row) => height - below - (row + 0.5) * high;
    const nodes = [];
    speed_rpm.forEach((rpm, i) => throttle_pct.forEach((pct, k) => {
      const { fill, text, dark } = cell(i * throttle_pct.length + k);
      nodes.push(svg("rect", { x: x(i) - wide / 2 + 0.5, y: y(k) - high / 2 + 0.5, width: wide - 1, height: high - 1, fill, stroke: "#cfd6da", "stroke-width": 0.5 }));
      if (text && (wide > 30 || text.length < 2))
        nodes.push(svg("text", { x: x(i), y: y(k) + 4, "text-anchor": "middle", style: `font-size:11px;fill:${dark ? "#fff" : ink}` }, text));
    }));
    const every = Math.ceil(42 / wide);
    speed_rpm.forEach((rpm, i) => i % every === 0 && nodes.push(svg("text", { x: x(i), y: height - 28, "text-anchor": "middle", class: "quiet" }, String(rpm))));
    throttle_pct.forEach((pct, k) => nodes.push(svg("text", { x: left - 6, y: y(k) + 4, "text-anchor": "end", class: "quiet" }, String(pct))));
    nodes.push(svg("text", { x: (left + width) / 2, y: height - 8, "text-anchor": "middle", class: "quiet" }, "speed, rpm"),
      svg("text", { x: 12, y: (height - below) / 2, "text-anchor": "middle", transform: `rotate(-90 12 ${(height - below) / 2})`, class: "quiet" }, "throttle, %"));
    if (driven?.rpm.length > 0) {
      const spots = driven.rpm.map((rpm, i) => [x(place_among(speed_rpm, rpm)), y(place_among(throttle_pct, driven.throttle_pct[i]))]);
      const [at_x, at_y] = spots.at(-1);
      nodes.push(svg("polyline", { points: spots.map((spot) => spot.map((part) => part.toFixed(1)).join()).join(" "), fill: "none", stroke: ink, "stroke-width": 1.5, "stroke-opacity": 0.45 }),
        svg("circle", { cx: at_x, cy: at_y, r: 6, fill: "#b35900", stroke: "#fff", "stroke-width": 2 }));
    }
    return nodes;
  }

  return {
    node: picture.node,
    describe: (words) => picture.plane.setAttribute("aria-label", `${title}. ${words}`),
    set(next) {
      now = next;
      picture.again();
    },
  };
}

const mix = (from, to, part) => `rgb(${from.map((channel, i) => Math.round(channel + part * (to[i] - channel))).join(" ")})`;
const white = [255, 255, 255], more = [176, 88, 20], less = [40, 86, 160];

/** Amber: more fuel than there is; blue: less; full colour at `reach` percent. Grey: not known. */
export function change(pct, reach) {
  if (pct === null) return { fill: "#e6eaec", text: "", dark: false };
  const part = Math.min(1, Math.abs(pct) / reach);
  return { fill: mix(white, pct > 0 ? more : less, part), text: shown(pct, Math.abs(pct) < 9.95 ? 1 : 0), dark: part > 0.6 };
}

/** White to violet as an uncertainty goes from 0 to `reach` percent. */
export function uncertainty(pct, reach) {
  const part = Math.min(1, pct / reach);
  return { fill: mix(white, [98, 48, 112], part), text: pct.toFixed(1), dark: part > 0.5 };
}

/** What became of a cell, by the letters of the reports. */
export const states = {
  corrected: { fill: "#1f6f78", text: "", dark: true, words: "corrected" },
  safe_part: { fill: "#8fc4c1", text: "s", dark: false, words: "s: corrected as far as is safe" },
  still_lean: { fill: "#b05814", text: "L", dark: true, words: "L: still lean" },
  left_alone: { fill: "#d9dfe2", text: "a", dark: false, words: "a: left alone" },
  not_driven: { fill: "#ffffff", text: "n", dark: false, words: "n: not driven" },
};
export const state_legend = () => Object.values(states).map(({ fill, words }) => [fill, words]);
