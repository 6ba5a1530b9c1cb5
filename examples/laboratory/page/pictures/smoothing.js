// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { button, readings, slider, summary, tick } from "../parts/controls.js";
import { amber, plum, slate, teal } from "../parts/colours.js";
import { html, shown } from "../parts/element.js";
import { joined, trace } from "../parts/trace.js";

function charts() {
  const curve = trace({
    name: "curve", title: "Fuel over throttle at one speed", x: "throttle, %", y: "mg", height: 320,
    series: [
      { label: "measured", colour: amber, is_dots: true },
      { label: "fitted curve, read between its breakpoints", colour: teal, width: 3 },
      { label: "95 % interval", colour: "#8fb9bd", width: 1 },
      { colour: "#8fb9bd", width: 1 },
      { label: "truth", colour: plum, dash: [7, 5] },
    ],
    bands: [{ series: [3, 4], fill: "rgb(31 111 120 / 0.15)" }],
  });
  const score = trace({
    name: "score", title: "What REML minimises, over smoothing", x: "smoothing, powers of ten", y: "score", height: 180,
    range: () => [-1, 30], series: [{ label: "minus the restricted log-likelihood, above its minimum", colour: slate }],
  });
  return { curve, score };
}

function show(answer, { curve, score }, with_truth, log10_strength) {
  const half = answer.standard_error_mg.map((error) => 1.96 * error);
  curve.set(joined([
    [...sorted(answer.dots.throttle_pct, answer.dots.fuel_mg)],
    [answer.throttle_pct, answer.value_mg, answer.value_mg.map((value, k) => value + half[k]),
      answer.value_mg.map((value, k) => value - half[k]), answer.truth_mg.map((value) => (with_truth ? value : null))],
  ]));
  score.set([answer.log10_strengths, answer.score]);
  score.mark(log10_strength);
}

/** Two columns in the order of the first. */
function sorted(x, y) {
  const order = x.map((_, i) => i).sort((a, b) => x[a] - x[b]);
  return [order.map((i) => x[i]), order.map((i) => y[i])];
}

export const smoothing = {
  id: "smoothing",
  title: "Smoothing",
  source: "smoothing.hpp",
  teaches: [
    "Measurements scatter, so a fit puts a penalty on curvature; how large that penalty should be is chosen from the data themselves, by [[REML]].",
    "Every breakpoint comes with a [[standard error]]: the band says where the truth should lie 95 times of 100, and it widens where little was measured.",
  ],
  questions: [
    "Move the slider far to the left, then far to the right. Which of the two errs more, and which of the two looks better than it is?",
    "Halve the noise with REML on. What happens to the smoothing it chooses, and to the band?",
  ],
  async open(stage, library) {
    let drawn = 7;
    const moved = () => update();
    const by_reml = tick({ name: "by_reml", label: "Smoothing chosen by REML", value: true, moved });
    const strength = slider({ name: "log10_strength", label: "Smoothing, powers of ten", from: -6, to: 4, step: 0.05, digits: 2, value: -2,
      moved: () => ((by_reml.value = false), update()) });
    const noise = slider({ name: "noise_mg", label: "Noise", unit: "mg", from: 0.1, to: 3, step: 0.1, digits: 1, value: 1, moved });
    const count = slider({ name: "count", label: "Measurements", from: 20, to: 300, step: 10, value: 80, moved });
    const truth = tick({ name: "truth", label: "Show the truth", moved });
    const numbers = readings([
      { name: "strength", label: "Smoothing used", digits: 5 },
      { name: "effective_parameters", label: "Parameters in effect", digits: 1 },
      { name: "noise_mg", label: "Noise, estimated", unit: "mg" },
      { name: "rms_error_mg", label: "Error of the curve, rms", unit: "mg" },
      { name: "inside_95", label: "Truth inside the band", unit: "%", digits: 0 },
    ]);
    const says = summary(), both = charts();
    const update = kept_current(library, "smoothing",
      () => ({ seed: drawn, count: count.value, noise_mg: noise.value, log10_strength: by_reml.value ? null : strength.value }),
      (answer) => {
        if (by_reml.value) strength.value = Math.log10(answer.strength);
        show(answer, both, truth.value, Math.log10(answer.strength));
        numbers.set({ ...Object.fromEntries(["strength", "effective_parameters", "noise_mg", "rms_error_mg"].map((key) => [key, answer[key]])),
          inside_95: 100 * answer.inside_95 });
        says.set(`${by_reml.value ? "REML chose" : "You chose"} a smoothing of ${answer.strength.toPrecision(2)}` +
          `${by_reml.value ? "" : `; REML would take ${answer.chosen_strength.toPrecision(2)}`}. The curve is ${shown(answer.rms_error_mg, 2)} mg off the truth, ` +
          `and its band holds the truth at ${shown(100 * answer.inside_95, 0)} % of the breakpoints.`);
      });
    stage.append(html("div", {}, both.curve.node, says.node, both.score.node),
      html("div", { class: "controls" }, by_reml.node, strength.node, noise.node, count.node, truth.node,
        html("div", { class: "row" }, button("Measure again", () => (++drawn, update()))), numbers.node));
    await update();
  },
};
