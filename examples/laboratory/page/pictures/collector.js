// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { readings, slider, summary, tick } from "../parts/controls.js";
import { amber, ink, slate, soft, teal } from "../parts/colours.js";
import { html, shown, svg } from "../parts/element.js";
import { drawing, scale } from "../parts/plane.js";
import { trace } from "../parts/trace.js";

/** Lambda of each cylinder as it is and as estimated, with its 95 % interval. */
function bars(state) {
  return drawing({ name: "cylinders", title: "Lambda of the five cylinders: truth and estimate", height: 250, draw(width) {
    const y = scale([0.86, 1.14], [220, 14]), x = (i) => 50 + ((i + 0.5) * (width - 60)) / 5;
    const nodes = [0.9, 1, 1.1].flatMap((lambda) => [
      svg("line", { x1: 44, x2: width - 6, y1: y(lambda), y2: y(lambda), stroke: soft, "stroke-opacity": lambda === 1 ? 0.9 : 0.3 }),
      svg("text", { x: 38, y: y(lambda) + 4, "text-anchor": "end", class: "quiet" }, lambda.toFixed(1))]);
    state.lambda().forEach((truth, i) => {
      nodes.push(svg("text", { x: x(i), y: 242, "text-anchor": "middle" }, `cylinder ${i + 1}`.replace("cylinder", width < 420 ? "cyl." : "cylinder")),
        svg("rect", { x: x(i) - 26, y: y(truth) - 2, width: 22, height: 5, fill: amber }));
      const estimate = state.answer?.estimate?.[i];
      if (estimate === undefined) return;
      const reach = 1.96 * state.answer.standard_error;
      nodes.push(svg("line", { x1: x(i) + 12, x2: x(i) + 12, y1: y(estimate - reach), y2: y(estimate + reach), stroke: teal, "stroke-width": 3 }),
        svg("circle", { cx: x(i) + 12, cy: y(estimate), r: 6, fill: teal }));
    });
    nodes.push(svg("rect", { x: 50, y: 2, width: 22, height: 5, fill: amber }), svg("text", { x: 78, y: 10 }, "truth"),
      svg("circle", { cx: 134, cy: 6, r: 5, fill: teal }), svg("text", { x: 144, y: 10 }, "estimate"));
    return nodes;
  } });
}

/** Which sensor goes where, and what the driven runs identify. */
function show_rotation(answer, runs) {
  if (answer.refusal) return [html("p", { class: "warning" }, answer.refusal)];
  const sensors = answer.plan[0].map((_, j) => `sensor ${j + 1}`);
  const known = answer.trim.filter(Boolean).length;
  return [
    html("div", { class: "scroll" }, html("table", {}, html("caption", {}, "Cylinder of each sensor, run by run"),
      html("thead", {}, html("tr", {}, html("th", { scope: "col" }, "run"), ...sensors.map((name) => html("th", { scope: "col" }, name)))),
      html("tbody", {}, ...answer.plan.map((run, r) => html("tr", {}, html("th", { scope: "row" }, `${r + 1}${r < runs ? ", driven" : ""}`),
        ...run.map((cylinder) => html("td", {}, String(cylinder)))))))),
    html("p", { "data-name": "identified", "data-value": known }, `${known} of 5 cylinders are identifiable after ${Math.min(runs, answer.plan.length)} of ${answer.plan.length} runs.`),
    html("ul", {}, ...answer.remarks.map((remark) => html("li", {}, remark)))];
}

function rotation_part(library) {
  const result = html("div", { role: "status" });
  const moved = () => update();
  const sensors = slider({ name: "sensors", label: "Sensors in the pipes", from: 1, to: 5, step: 1, value: 2, moved });
  const runs = slider({ name: "runs", label: "Runs driven", from: 1, to: 5, step: 1, value: 1, moved });
  const has_collector = tick({ name: "has_collector", label: "A calibrated sensor stays after the collector", value: true, moved });
  const update = kept_current(library, "rotation",
    () => ({ sensors: sensors.value, runs: runs.value, has_collector: has_collector.value }),
    (answer) => result.replaceChildren(...show_rotation(answer, runs.value)));
  return { update, node: html("section", { class: "wide" }, html("h3", {}, "Rotating sensors"),
    html("p", {}, "A sensor that reads lean and a cylinder that is lean look the same, until the sensor moves to another pipe."),
    html("div", { class: "stage" }, result, html("div", { class: "controls" }, sensors.node, runs.node, has_collector.node))) };
}

export const collector = {
  id: "one-sensor",
  title: "One sensor, five cylinders",
  source: "collector.hpp",
  teaches: [
    "After the collector the five cylinders pass one behind the other, so a fast sensor read once per exhaust event can distinguish them; gas mixes and the sensor lags, so the differences that it shows shrink as speed rises.",
    "Where these differences are smaller than the noise, or the delay is known no better than a quarter of an event, the estimate is refused instead of given to the wrong cylinder.",
  ],
  questions: [
    "Raise the speed until the estimate is refused. Which of the two reasons is it, and which would a faster sensor remove?",
    "Make one cylinder lean and another rich so that the mean is 1. What would a slow sensor after the collector say?",
  ],
  async open(stage, library) {
    const moved = () => update();
    const speed = slider({ name: "speed_rpm", label: "Speed", unit: "rpm", from: 1000, to: 9000, step: 100, value: 3000, moved });
    const lag = slider({ name: "lag_s", label: "Lag of the sensor", unit: "ms", from: 1, to: 60, step: 1, value: 8, moved });
    const noise = slider({ name: "noise", label: "Noise of a sample", unit: "%", from: 0.1, to: 3, step: 0.1, digits: 1, value: 0.6, moved });
    const cycles = slider({ name: "cycles", label: "Cycles watched", from: 20, to: 1000, step: 20, value: 200, moved });
    const lambdas = [0.97, 1.02, 0.96, 1.01, 1.042].map((value, i) => slider({ name: `lambda_${i + 1}`, label: `Cylinder ${i + 1}, lambda`, from: 0.9, to: 1.1, step: 0.005, digits: 3, value, moved }));
    const state = { answer: null, lambda: () => lambdas.map((control) => control.value) };
    const picture = bars(state);
    const gain = trace({ name: "gain", title: "How much of a difference between cylinders the sensor shows, where it shows least", x: "speed, rpm", y: "gain", height: 200, range: (_, low, high) => [0, Math.max(high, 0.05)], series: [{ colour: slate }] });
    const samples = trace({ name: "samples", title: "What it reads at 40 exhaust events", x: "exhaust event", y: "lambda", height: 180, series: [{ colour: teal }] });
    const numbers = readings([
      { name: "collector_lambda", label: "Mean after the collector", digits: 4 }, { name: "weakest_gain", label: "Least gain of a difference", digits: 3 },
      { name: "cylinder_error", label: "Error of a cylinder", unit: "%" }, { name: "delay_events", label: "Delay known to", unit: "events" },
      { name: "highest_rpm", label: "Refused above", unit: "rpm", digits: 0 }]);
    const says = summary(), refusal = html("p", { class: "warning", hidden: true });
    const update = kept_current(library, "collector", () => ({
      speed_rpm: speed.value, lag_s: lag.value / 1000, noise: noise.value / 100, cycles: cycles.value, lambda: state.lambda(),
    }), (answer) => {
      state.answer = answer;
      picture.again();
      gain.set([answer.speeds_rpm, answer.weakest_gains]);
      gain.mark(speed.value);
      samples.set([answer.samples.map((_, i) => i), answer.samples]);
      numbers.set({ collector_lambda: answer.collector_lambda, weakest_gain: answer.weakest_gain, cylinder_error: 100 * answer.cylinder_error,
        delay_events: answer.delay_events, highest_rpm: answer.highest_rpm });
      refusal.hidden = answer.refusal === null;
      refusal.textContent = answer.refusal ?? "";
      says.set(answer.estimate === null ? `Blind at ${speed.value} rpm: no estimate of any cylinder.` :
        `Estimated lambda of cylinders 1 to 5: ${answer.estimate.map((lambda) => shown(lambda, 3)).join(", ")}, each ± ${shown(196 * answer.standard_error, 2)} %.`);
    });
    const rotated = rotation_part(library);
    stage.append(html("div", {}, picture.node, refusal, says.node, gain.node, samples.node),
      html("div", { class: "controls" }, speed.node, lag.node, noise.node, cycles.node, ...lambdas.map((control) => control.node), numbers.node), rotated.node);
    await Promise.all([update(), rotated.update()]);
  },
};
