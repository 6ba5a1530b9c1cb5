// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { player, readings, slider, summary } from "../parts/controls.js";
import { amber, ink, lambda_colour, plum, slate, teal } from "../parts/colours.js";
import { html, shown, svg } from "../parts/element.js";
import { drawing } from "../parts/plane.js";
import { trace } from "../parts/trace.js";

/** The pipe from valve to sensor: parcels of gas, coloured by their lambda. */
function pipe(state) {
  return drawing({ name: "pipe", title: "Gas in the exhaust at this moment: amber is lean, blue is rich", height: 130, draw(width) {
    if (!state.answer) return [];
    const { parcels, parcel_step } = state.answer;
    const at = Math.min(parcels[0].length - 1, Math.round(state.row / parcel_step));
    const left = 58, step = (width - left - 70) / parcels.length;
    return [
      svg("text", { x: 0, y: 64 }, "valve"),
      ...parcels.map((lambda, k) => svg("rect", { x: left + k * step, y: 38, width: step + 0.5, height: 44, fill: lambda_colour(lambda[at]) })),
      svg("rect", { x: left, y: 38, width: step * parcels.length, height: 44, fill: "none", stroke: ink, "stroke-width": 2 }),
      svg("text", { x: width - 64, y: 64 }, "sensor"),
      svg("text", { x: left, y: 26 }, `made now: ${shown(state.answer.lambda_made[state.row], 2)}`),
      svg("text", { x: width - 64, y: 26, "text-anchor": "end" }, `at the sensor: ${shown(state.answer.lambda_at_sensor[state.row], 2)}`),
      svg("text", { x: width - 64, y: 104, "text-anchor": "end", "font-weight": 600 }, `read: ${shown(state.answer.lambda_read[state.row], 3)}`),
    ];
  } });
}

export const tip_in = {
  id: "tip-in",
  title: "A tip-in",
  source: "tip_in.hpp",
  teaches: [
    "What the sensor reads now was injected earlier: some revolutions until the exhaust valve opens, then as long as it takes to push the gas out of the pipe, then the sensor's own lag.",
    "The gas moves by mass, so the delay is long at little flow and shrinks the moment the throttle opens; with a fixed delay the reading is assigned to the wrong cell.",
  ],
  questions: [
    "Lower the speed to 1000 rpm and note when the lean gas arrives. In which cell would a fixed delay of 0.1 s look for the fault?",
    "Which of the three, revolutions, pipe or lag, only moves the lean spot, and which makes it shallower?",
  ],
  async open(stage, library) {
    const state = { answer: null, row: 144 };
    const moved = () => update();
    const speed = slider({ name: "speed_rpm", label: "Speed", unit: "rpm", from: 1000, to: 8500, step: 100, value: 2000, moved });
    const gas = slider({ name: "pipe_gas_mass_g", label: "Gas in the pipe", unit: "g", from: 0.2, to: 8, step: 0.1, digits: 1, value: 5, moved });
    const lag = slider({ name: "lag_s", label: "Lag of the sensor", unit: "s", from: 0, to: 0.3, step: 0.01, digits: 2, value: 0.06, moved });
    const turns = slider({ name: "revolutions", label: "Revolutions to the valve", from: 0.5, to: 3, step: 0.1, digits: 1, value: 1.5, moved });
    const picture = pipe(state);
    const lambda = trace({ name: "lambda", title: "Lambda as made, at the sensor, and as read", x: "time, s", y: "lambda", range: () => [0.9, 1.2],
      series: [{ label: "made", colour: slate, dash: [6, 4] }, { label: "gas at the sensor", colour: plum }, { label: "read", colour: teal, width: 3 }] });
    const throttle = trace({ name: "throttle", title: "Throttle", x: "time, s", y: "%", height: 130, range: () => [0, 60], series: [{ colour: amber }] });
    const numbers = readings([
      { name: "delay_shut_s", label: "Delay before the tip-in", unit: "s", digits: 3 },
      { name: "delay_open_s", label: "Delay after it", unit: "s", digits: 3 },
      { name: "arrives_s", label: "First lean gas at the sensor", unit: "s", digits: 3 },
      { name: "read_now", label: "Read at this moment", digits: 3 },
    ]);
    const says = summary();
    const moment = player({ name: "row", label: "Moment", rows: 801, row: state.row, step_s: 0.0025, moved: show_moment });
    function show_moment() {
      state.row = moment.row;
      picture.again();
      for (const chart of [lambda, throttle]) chart.mark(state.answer.time_s[state.row]);
      numbers.set({ read_now: state.answer.lambda_read[state.row] });
    }
    const update = kept_current(library, "tip_in",
      () => ({ speed_rpm: speed.value, revolutions: turns.value, pipe_gas_mass_g: gas.value, lag_s: lag.value }),
      (answer) => {
        state.answer = answer;
        lambda.set([answer.time_s, answer.lambda_made, answer.lambda_at_sensor, answer.lambda_read]);
        throttle.set([answer.time_s, answer.throttle_pct]);
        numbers.set({ delay_shut_s: answer.delay_shut_s, delay_open_s: answer.delay_open_s, arrives_s: answer.arrives_s });
        show_moment();
        const leanest = Math.max(...answer.lambda_read);
        says.set(answer.arrives_s === null ? "The lean gas does not reach the sensor within these two seconds." :
          `The throttle opens at ${shown(answer.opens_s, 1)} s; the first lean gas reaches the sensor ${shown(answer.arrives_s - answer.opens_s, 2)} s later. ` +
          `It was as lean as 1.16; the sensor shows ${shown(leanest, 3)}.`);
      });
    stage.append(html("div", {}, picture.node, moment.node, lambda.node, throttle.node, says.node),
      html("div", { class: "controls" }, speed.node, gas.node, lag.node, turns.node, numbers.node));
    await update();
    return { close: moment.stop };
  },
};
