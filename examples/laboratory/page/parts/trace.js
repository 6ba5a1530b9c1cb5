// SPDX-License-Identifier: MIT
import uPlot from "uplot";
import { html } from "./element.js";
import { ink, line, soft } from "./colours.js";
import { growth } from "./size.js";

function axis(label, unit, extra) {
  const values = (_, ticks) => ticks.map((tick) => String(tick).replace("-", "−")), font = `${13 * unit}px system-ui, sans-serif`;
  return { label, values, stroke: ink, font, labelFont: font, labelSize: 22 * unit, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, ...extra };
}

/**
 * A chart of lines over a common x. `set([x, y1, y2, ..])` shows numbers, `mark(x)` a moment.
 *
 * @param counted  the last of a row of whole numbers that x counts; none: x is measured.
 * @param series  label, colour; dash; width; is_dots, points instead of a line; has_points, on it; band, [upper, lower] of other series.
 */
export function trace({ name, title, x, y, series, height = 260, range, counted, bands = [] }) {
  const place = html("div", { class: "trace", role: "img", "aria-label": title, "data-chart": name });
  const legend = html("ul", { class: "legend", "aria-hidden": "true" }, ...series.filter((curve) => curve.label).map((curve) =>
    html("li", {}, html("i", { style: curve.is_dots ? `background:${curve.colour};width:8px;height:8px;border-radius:4px` :
      `border-top:3px ${curve.dash ? "dashed" : "solid"} ${curve.colour}` }), curve.label)));
  const figure = html("figure", {}, html("figcaption", {}, title), place, legend);
  let marked = null;
  const unit = growth(), high = height * unit;
  const plot = new uPlot({
    width: 300,
    height: high,
    legend: { show: false },
    cursor: { show: false },
    select: { show: false },
    scales: { x: { time: false, ...(counted && { range: [0, counted] }) }, y: range ? { range } : {} },
    axes: [axis(x, unit, { size: 44 * unit, labelSize: 20 * unit, ...(counted && { incrs: [1, 2, 5] }) }), axis(y, unit, { size: 58 * unit })],
    series: [{}, ...series.map((curve) => ({
      label: curve.label,
      stroke: curve.colour,
      width: curve.is_dots ? 0 : (curve.width ?? 2) * unit,
      dash: curve.dash,
      paths: curve.is_dots ? () => null : curve.is_stepped ? uPlot.paths.stepped({ align: 1 }) : undefined,
      points: { show: Boolean(curve.is_dots || curve.has_points), size: (curve.is_dots ? 5 : 8) * unit, fill: curve.colour, stroke: curve.colour },
      spanGaps: true,
    }))],
    bands,
    hooks: {
      draw: [(u) => {
        if (marked === null) return;
        const at = Math.round(u.valToPos(marked, "x", true));
        u.ctx.save();
        u.ctx.strokeStyle = soft;
        u.ctx.lineWidth = 2;
        u.ctx.setLineDash([4, 4]);
        u.ctx.beginPath();
        u.ctx.moveTo(at, u.bbox.top);
        u.ctx.lineTo(at, u.bbox.top + u.bbox.height);
        u.ctx.stroke();
        u.ctx.restore();
      }],
    },
  }, [[], ...series.map(() => [])], place);
  new ResizeObserver(() => {
    const width = Math.floor(place.clientWidth);
    if (width > 0 && width !== plot.width) plot.setSize({ width, height: high });
  }).observe(place);
  return {
    node: figure,
    set: (data) => plot.setData(data),
    mark(at) {
      marked = at;
      plot.redraw(false);
    },
    describe: (text) => place.setAttribute("aria-label", `${title}. ${text}`),
  };
}

/** Columns of several tables, each [x, y, ..], on one common x. */
export const joined = (tables) => uPlot.join(tables);
