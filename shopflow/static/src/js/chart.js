// A run chart of one characteristic. Its data stands in the table with the id in data-chart, so that it is read
// without a script too: columns piece and value; data-low, data-high and data-nominal are limits, data-unit the unit.
import uPlot from "uplot";
import { colour } from "./theme.js";

function figures(table) {
  const rows = [...table.querySelectorAll("tbody tr")];
  const number = (row, name) => Number.parseFloat(row.querySelector(`[data-${name}]`)?.getAttribute(`data-${name}`));
  return [rows.map((row, index) => number(row, "piece") || index + 1), rows.map((row) => number(row, "value"))];
}

function flat(count, value) {
  return Array(count).fill(value === undefined || value === "" ? null : Number(value));
}

function options(box, width) {
  const limit = { stroke: colour("--ink"), width: 2, points: { show: false } };
  return {
    width,
    height: 220,
    legend: { show: false },
    cursor: { drag: { x: false, y: false } },
    scales: { x: { time: false } },
    axes: [
      { stroke: colour("--ink"), grid: { stroke: colour("--rule-faint") }, font: "12px Plex Mono", incrs: [1, 2, 5, 10, 20, 50, 100] },
      { stroke: colour("--ink"), grid: { stroke: colour("--rule-faint") }, font: "12px Plex Mono", size: 72 },
    ],
    series: [
      {},
      { stroke: colour("--ink"), width: 1, points: { show: true, size: 7, fill: colour("--white") } },
      limit,
      limit,
      { ...limit, width: 1, dash: [6, 4] },
    ],
  };
}

export function start(box) {
  const table = document.getElementById(box.dataset.chart);
  if (!table || box.dataset.started) return;
  box.dataset.started = "yes";
  const [pieces, values] = figures(table);
  const { low, high, nominal } = box.dataset;
  const data = [pieces, values, flat(pieces.length, low), flat(pieces.length, high), flat(pieces.length, nominal)];
  const plot = new uPlot(options(box, box.clientWidth), data, box);
  new ResizeObserver(() => plot.setSize({ width: box.clientWidth, height: 220 })).observe(box);
}
