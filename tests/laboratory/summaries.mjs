// SPDX-License-Identifier: MIT
// How far two summary.json of one program on one session are apart. By hand: node summaries.mjs ONE OTHER
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

/** All numbers and texts of a JSON value, [place, value]. */
function leaves(value, place = "") {
  if (value === null || typeof value !== "object") return [[place, value]];
  return Object.entries(value).flatMap(([key, part]) => leaves(part, `${place}/${key}`));
}

/**
 * What differs, the furthest first: [{place, first, second, apart}]. Numbers are compared as shares of their size, those in
 * percent as the fuel or lambda that they are a percentage of; what is no number in both is apart without end.
 */
export function differences(first_json, second_json) {
  const first = new Map(leaves(JSON.parse(first_json))), second = new Map(leaves(JSON.parse(second_json)));
  const apart = (place, a, b) => a === b ? 0 : typeof a !== "number" || typeof b !== "number" ? Infinity :
    Math.abs(a - b) / Math.max(Math.abs(b), place.includes("_pct") ? 100 : 0);
  return [...new Set([...first.keys(), ...second.keys()])]
    .map((place) => ({ place, first: first.get(place), second: second.get(place), apart: apart(place, first.get(place), second.get(place)) }))
    .filter((each) => each.apart > 0).sort((a, b) => b.apart - a.apart);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const [first_json, second_json] = process.argv.slice(2).map((path) => readFileSync(path, "utf8"));
  for (const { place, first, second, apart } of differences(first_json, second_json).slice(0, 5)) console.log(apart.toExponential(1), place, first, second);
}
