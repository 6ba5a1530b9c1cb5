// SPDX-License-Identifier: MIT
// Colours of lines: each at least 4.5 to 1 on the page's ground.
export const ink = "#1d2429", soft = "#55616a", line = "#cfd6da";
export const teal = "#1f6f78", amber = "#9a5200", plum = "#7a2f6b", slate = "#4a5a66", leaf = "#3d6b21";

const mix = (a, b, t) => a.map((part, i) => Math.round(part + t * (b[i] - part)));
const css = (c) => `rgb(${c.join(" ")})`;
const cream = [250, 243, 222], sea = [86, 166, 160], deep = [33, 59, 110];
const white = [250, 250, 250], lean = [196, 110, 30], rich = [52, 96, 170];

/** Cream over sea to deep blue as `part` goes from 0 to 1: order survives on grey paper. */
export function height_parts(part) {
  const t = Math.min(1, Math.max(0, part));
  return t < 0.5 ? mix(cream, sea, 2 * t) : mix(sea, deep, 2 * t - 1);
}
export const height_colour = (part) => css(height_parts(part));

/** Blue for rich, white at 1, amber for lean; full colour `reach` away from 1. */
export function lambda_colour(lambda, reach = 0.15) {
  const t = Math.min(1, Math.abs(lambda - 1) / reach);
  return css(mix(white, lambda > 1 ? lean : rich, t));
}
