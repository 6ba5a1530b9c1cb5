// SPDX-License-Identifier: MIT
import uPlot from "uplot";
import { html } from "./element.js";
import { ink, line, soft } from "./colours.js";

const font = "13px system-ui, sans-serif";

function axis(label, extra) {
  const values = (_, ticks) => ticks.map((tick) => String(tick).replace("-", "−"));
  return { label, values, stroke: ink, font, labelFont: font, labelSize: 22, grid: { stroke: line, width: 1 }, ticks: { stroke: line }, ...extra };
}

/**
 * A chart of lines over a common x. `set([x, y1, y2, ..])` shows numbers, `mark(x)` a moment.
 *
 * @param counted  the last of a row of whole numbers that x counts; none: x is measured.
 * @param series  label, colour; dash; width; is_dots, points instead of a line; band, [upper, lower] of other series.
 */
export function trace({ name, title, x, y, series, height = 260, range, counted, bands = [] }) {
  const place = html("div", { class: "trace", role: "img", "aria-label": title, "data-chart": name });
  const legend = html("ul", { class: "legend", "aria-hidden": "true" }, ...series.filter((curve) => curve.label).map((curve) =>
    html("li", {}, html("i", { style: curve.is_dots ? `background:${curve.colour};width:8px;height:8px;border-radius:4px` :
      `border-top:3px ${curve.dash ? "dashed" : "solid"} ${curve.colour}` }), curve.label)));
  const figure = html("figure", {}, html("figcaption", {}, title), place, legend);
  let marked = null;
  const plot = new uPlot({
    width: 300,
    height,
    legend: { show: false },
    cursor: { show: false },
    select: { show: false },
    scales: { x: { time: false, ...(counted && { range: [0, counted] }) }, y: range ? { range } : {} },
    axes: [axis(x, { size: 44, labelSize: 20, ...(counted && { incrs: [1, 2, 5] }) }), axis(y, { size: 58 })],
    series: [{}, ...series.map((curve) => ({
      label: curve.label,
      stroke: curve.colour,
      width: curve.is_dots ? 0 : (curve.width ?? 2),
      dash: curve.dash,
      paths: curve.is_dots ? () => null : curve.is_stepped ? uPlot.paths.stepped({ align: 1 }) : undefined,
      points: curve.is_dots ? { show: true, size: 5, fill: curve.colour, stroke: curve.colour } : { show: false },
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
    if (width > 0 && width !== plot.width) plot.setSize({ width, height });
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
