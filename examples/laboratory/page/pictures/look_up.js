// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { choice, readings, slider, summary } from "../parts/controls.js";
import { html, shown, svg } from "../parts/element.js";
import { height_colour, ink } from "../parts/colours.js";
import { drawing, scale } from "../parts/plane.js";
import { surface } from "../parts/surface.js";

const height = 420, speeds = [600, 9200], throttles = [-8, 108];

export const look_up = {
  id: "look-up",
  title: "A look-up",
  source: "look_up.hpp",
  teaches: [
    "A map holds numbers at its breakpoints only; between them a look-up mixes the four cells around the point, each by a weight, and the weights sum to 1.",
    "Because the value is a weighted sum of cells, everything else here, [[smoothing]], correcting, filling, is one problem of least squares.",
  ],
  questions: [
    "Drag the point along a breakpoint line. How many cells count there, and why does a measurement taken there say nothing of the others?",
    "Take the point beyond 8500 rpm under each rule. Why does a controller hold the end instead of continuing the slope?",
  ],
  async open(stage, library) {
    const map = await library.ask("demo_surface", { steps: 4 });
    let answer = null;
    const speed = slider({ name: "speed_rpm", label: "Speed", unit: "rpm", from: 700, to: 9100, step: 50, value: 3100, moved: () => update() });
    const throttle = slider({ name: "throttle_pct", label: "Throttle", unit: "%", from: -5, to: 105, step: 0.5, digits: 1, value: 35, moved: () => update() });
    const rule = choice({ name: "outside", label: "Beyond the ends", value: "hold", moved: () => update(),
      options: [["hold", "hold the end"], ["extend", "straight on"], ["refuse", "refuse"]] });
    const numbers = readings([
      { name: "value_mg", label: "Fuel", unit: "mg", digits: 2 },
      { name: "slope_mg_per_rpm", label: "per 1000 rpm", unit: "mg" },
      { name: "slope_mg_per_pct", label: "per % throttle", unit: "mg", digits: 3 },
    ]);
    const says = summary();

    const lowest = Math.min(...map.fuel_mg), highest = Math.max(...map.fuel_mg);
    const part = (fuel) => (fuel - lowest) / (highest - lowest);
    const picture = drawing({ name: "look_up", title: "Fuel in mg over speed and throttle: drag the point", height, draw });
    const turned = surface({ name: "surface", title: "The same map as a surface: speed to the right, throttle to the back, fuel upwards", map, part });

    function draw(width) {
      const x = scale(speeds, [46, width - 8]), y = scale(throttles, [height - 40, 10]);
      const nodes = [];
      const weights = new Map(answer ? answer.cells.map((cell) => [cell.index, cell.weight]) : []);
      for (let i = 1; i < map.fine_speed_rpm.length; ++i)
        for (let k = 1; k < map.fine_throttle_pct.length; ++k) {
          const at = (a, b) => map.fine_fuel_mg[a * map.fine_throttle_pct.length + b];
          const mean = (at(i, k) + at(i - 1, k) + at(i, k - 1) + at(i - 1, k - 1)) / 4;
          const left = x(map.fine_speed_rpm[i - 1]), top = y(map.fine_throttle_pct[k]);
          nodes.push(svg("rect", { x: left, y: top, width: x(map.fine_speed_rpm[i]) - left + 0.5,
            height: y(map.fine_throttle_pct[k - 1]) - top + 0.5, fill: height_colour(0.62 * part(mean)) }));
        }
      map.speed_rpm.forEach((rpm) => nodes.push(
        svg("line", { x1: x(rpm), x2: x(rpm), y1: y(0), y2: y(100), stroke: ink, "stroke-opacity": 0.3 }),
        svg("text", { x: x(rpm), y: height - 20, "text-anchor": "middle", class: "quiet" }, String(rpm))));
      map.throttle_pct.forEach((pct) => nodes.push(
        svg("line", { x1: x(1000), x2: x(8500), y1: y(pct), y2: y(pct), stroke: ink, "stroke-opacity": 0.3 }),
        svg("text", { x: x(speeds[0]) - 8, y: y(pct) + 4, "text-anchor": "end", class: "quiet" }, String(pct))));
      nodes.push(svg("text", { x: width / 2, y: height - 3, "text-anchor": "middle", class: "quiet" }, "speed, rpm"),
        svg("text", { x: 4, y: 12, class: "quiet" }, "throttle, %"));
      map.fuel_mg.forEach((fuel, cell) => {
        const weight = weights.get(cell) ?? 0;
        const at = [x(map.speed_rpm[Math.floor(cell / map.throttle_pct.length)]), y(map.throttle_pct[cell % map.throttle_pct.length])];
        if (weight > 0)
          nodes.push(svg("circle", { cx: at[0], cy: at[1], r: 8 + 22 * Math.sqrt(weight), fill: "#fff", "fill-opacity": 0.75, stroke: "#7a2f6b", "stroke-width": 2 }),
            svg("text", { x: at[0], y: at[1] - 4, "text-anchor": "middle", "font-weight": 600 }, shown(fuel, 1)),
            svg("text", { x: at[0], y: at[1] + 11, "text-anchor": "middle" }, `${shown(100 * weight, 0)} %`));
        else nodes.push(svg("text", { x: at[0], y: at[1] + 4, "text-anchor": "middle", class: "cell" }, shown(fuel, 1)));
      });
      nodes.push(handle(x, y));
      return nodes;
    }

    /** The point: dragged with a pointer, moved with the arrow keys. */
    function handle(x, y) {
      const node = svg("g", { class: "handle", tabindex: 0, role: "application", "data-handle": "point",
        "aria-label": `Point at ${speed.value} rpm and ${throttle.value} %. Arrow keys move it.` },
        svg("circle", { cx: x(speed.value), cy: y(throttle.value), r: 24, fill: "transparent" }),
        svg("circle", { cx: x(speed.value), cy: y(throttle.value), r: 9, fill: "#b35900", stroke: "#fff", "stroke-width": 3 }));
      node.addEventListener("keydown", (event) => {
        const step = { ArrowLeft: [-50, 0], ArrowRight: [50, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
        if (!step) return;
        event.preventDefault();
        speed.value += step[0];
        throttle.value += step[1];
        update();
      });
      return node;
    }

    let dragging = false;
    const follow = (event) => {
      const place = picture.under(event);
      const x = scale(speeds, [46, place.width - 8]), y = scale(throttles, [height - 40, 10]);
      speed.value = x.back(place.x);
      throttle.value = y.back(place.y);
      update();
    };
    picture.plane.addEventListener("pointerdown", (event) => {
      dragging = true;
      picture.plane.setPointerCapture(event.pointerId);
      follow(event);
    });
    picture.plane.addEventListener("pointermove", (event) => dragging && follow(event));
    picture.plane.addEventListener("pointerup", () => (dragging = false));

    const update = kept_current(library, "look_up",
      () => ({ speed_rpm: speed.value, throttle_pct: throttle.value, outside: rule.value }),
      (next) => {
        answer = next;
        const focused = document.activeElement?.dataset?.handle === "point";
        picture.again();
        if (focused) picture.plane.querySelector("[data-handle]").focus();
        turned.point(speed.value, throttle.value, answer.value_mg);
        numbers.set({ value_mg: answer.value_mg, slope_mg_per_rpm: 1000 * answer.slope_mg_per_rpm, slope_mg_per_pct: answer.slope_mg_per_pct });
        const used = answer.cells.filter((cell) => cell.weight !== 0 && cell.weight !== null);
        const beyond = answer.where.some((where) => where !== "inside");
        says.set(answer.value_mg === null ? "The point is beyond the map, and the rule refuses it: no number rather than a wrong one." :
          `${used.length} cell${used.length > 1 ? "s" : ""}: ${used.map((cell) => `${shown(cell.fuel_mg, 1)} mg at ${cell.speed_rpm} rpm and ${cell.throttle_pct} % with ${shown(100 * cell.weight, 0)} %`).join(", ")}.` +
          (beyond ? " The point is beyond the map." : ""));
      });
    stage.append(html("div", {}, picture.node, says.node, turned.node),
      html("div", { class: "controls" }, speed.node, throttle.node, rule.node, numbers.node));
    await update();
    return { close: turned.close };
  },
};
