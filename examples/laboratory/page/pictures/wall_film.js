// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { player, readings, slider, summary, tick } from "../parts/controls.js";
import { amber, ink, plum, slate, teal } from "../parts/colours.js";
import { html, shown, svg } from "../parts/element.js";
import { drawing } from "../parts/plane.js";
import { trace } from "../parts/trace.js";

/** The film as a bucket: what is poured in, what stays, what leaves for the cylinder. */
function bucket(state) {
  return drawing({ name: "bucket", title: "The wall as a bucket, in one cycle", height: 230, draw(width) {
    const { answer, row } = state;
    if (!answer) return [];
    const film = answer.film_mg[row], fullest = Math.max(...answer.film_mg), level = (110 * film) / fullest;
    const middle = width / 2, injected = answer.injected_mg[row], reaches = answer.cylinder_mg[row];
    const flow = (mg) => Math.max(1.5, mg / 1.6);
    return [
      svg("text", { x: middle, y: 16, "text-anchor": "middle" }, `injected ${shown(injected, 1)} mg`),
      svg("rect", { x: middle - flow(injected) / 2, y: 24, width: flow(injected), height: 50, fill: amber, "fill-opacity": 0.7 }),
      svg("rect", { x: middle - 78, y: 190 - level, width: 156, height: level, fill: "#5aa2a8" }),
      svg("path", { d: `M${middle - 80} 74 V191 H${middle + 80} V74`, fill: "none", stroke: ink, "stroke-width": 3 }),
      svg("text", { x: middle, y: 184, "text-anchor": "middle", "font-weight": 600 }, `film ${shown(film, 1)} mg`),
      svg("rect", { x: middle + 82, y: 168 - flow(reaches) / 2, width: Math.min(60, width / 2 - 90), height: flow(reaches), fill: plum, "fill-opacity": 0.7 }),
      svg("text", { x: middle, y: 214, "text-anchor": "middle" }, `to the cylinder ${shown(reaches, 1)} mg of ${shown(answer.wanted_mg[row], 1)} wanted: lambda ${shown(answer.lambda[row], 3)}`),
    ];
  } });
}

export const wall_film = {
  id: "wall-film",
  title: "The wall film",
  source: "wall_film.hpp",
  teaches: [
    "Part of the fuel lands on the wall of the port and leaves it later: a bucket with a hole, called the [[wall film]]. Steady, as much leaves as arrives; when the throttle opens, the bucket fills first and the cylinder goes lean.",
    "A controller that computes the film as well injects what the cylinder needs less what the film gives off; how well that works depends on how well it knows the two numbers.",
  ],
  questions: [
    "Switch the compensation off and halve the time of the film. Does the lean spot become shallower, shorter, or both?",
    "Let the controller assume half of the film. On which side, lean or rich, does it err when the throttle opens, and when it shuts?",
  ],
  async open(stage, library) {
    const state = { answer: null, row: 0 };
    const moved = () => update();
    const deposited = slider({ name: "deposited", label: "Lands on the wall", unit: "%", from: 0, to: 60, step: 1, value: 25, moved });
    const time = slider({ name: "evaporation_ms", label: "Time of the film", unit: "ms", from: 20, to: 1000, step: 10, value: 250, moved });
    const speed = slider({ name: "speed_rpm", label: "Speed", unit: "rpm", from: 800, to: 8500, step: 100, value: 3000, moved });
    const is_compensated = tick({ name: "is_compensated", label: "Compensated by the controller", moved });
    const share_error = slider({ name: "share_error", label: "Assumed share, off by", unit: "%", from: -60, to: 60, step: 5, value: 0, moved });
    const time_error = slider({ name: "time_error", label: "Assumed time, off by", unit: "%", from: -60, to: 60, step: 5, value: 0, moved });
    const picture = bucket(state);
    const lambda = trace({ name: "lambda", title: "Lambda in the cylinder, target 1", x: "time, s", y: "lambda", height: 220, range: (_, low, high) => [Math.min(0.9, low), Math.max(1.1, high)],
      series: [{ label: "lambda", colour: teal, width: 3 }] });
    const fuel = trace({ name: "fuel", title: "Fuel", x: "time, s", y: "mg", height: 200, series: [
      { label: "wanted in the cylinder", colour: slate, dash: [6, 4] }, { label: "injected", colour: amber }, { label: "reaches the cylinder", colour: plum }] });
    const numbers = readings([
      { name: "leanest", label: "Leanest lambda", digits: 3 }, { name: "richest", label: "Richest lambda", digits: 3 },
      { name: "evaporated", label: "Film that leaves in a cycle", unit: "%", digits: 1 }, { name: "film_mg", label: "Film at this moment", unit: "mg", digits: 2 }]);
    const says = summary();
    const moment = player({ name: "moment", label: "Moment", rows: 301, row: 42, step_s: 0.01, moved: show_moment });
    function show_moment() {
      const at_s = moment.row * 0.01;
      const after = state.answer.time_s.findIndex((time_s) => time_s > at_s);
      state.row = (after < 0 ? state.answer.time_s.length : after) - 1;
      picture.again();
      for (const chart of [lambda, fuel]) chart.mark(state.answer.time_s[state.row]);
      numbers.set({ film_mg: state.answer.film_mg[state.row] });
    }
    const film = (share, ms) => ({ deposited: share / 100, evaporation_ms: ms });
    const update = kept_current(library, "wall_film", () => ({
      speed_rpm: speed.value, film: film(deposited.value, time.value), is_compensated: is_compensated.value,
      assumed: film(Math.min(95, deposited.value * (1 + share_error.value / 100)), time.value * (1 + time_error.value / 100)),
    }), (answer) => {
      state.answer = answer;
      lambda.set([answer.time_s, answer.lambda]);
      fuel.set([answer.time_s, answer.wanted_mg, answer.injected_mg, answer.cylinder_mg]);
      numbers.set({ leanest: answer.leanest, richest: answer.richest, evaporated: 100 * answer.evaporated });
      show_moment();
      says.set(`${is_compensated.value ? "Compensated" : "Not compensated"}: lambda goes from ${shown(answer.richest, 3)} to ${shown(answer.leanest, 3)}.`);
    });
    stage.append(html("div", {}, picture.node, moment.node, lambda.node, fuel.node, says.node),
      html("div", { class: "controls" }, is_compensated.node, deposited.node, time.node, speed.node, share_error.node, time_error.node, numbers.node));
    await update();
    return { close: moment.stop };
  },
};
