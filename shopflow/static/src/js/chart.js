// A run chart of one characteristic. Its data stands in the table with the id in data-chart, so that it is read
// without a script too; data-low, data-high and data-nominal are the limits.
import uPlot from "uplot";
import { NUMBERS, colour, numbersReady, whenResized } from "./theme.js";

const HEIGHT = 220;

function figures(table) {
  const column = (name) => [...table.querySelectorAll(`[data-${name}]`)].map((cell) => Number.parseFloat(cell.dataset[name]));
  return [column("piece"), column("value")];
}

function limit(text, count) {
  return Array(count).fill(text ? Number.parseFloat(text) : null);
}

// Limits must be seen even while every piece is good, and a tenth of room around them.
function range(plot, low, high) {
  const known = plot.data.slice(1).flat().filter((value) => value !== null);
  const least = Math.min(low ?? Infinity, ...known);
  const most = Math.max(high ?? -Infinity, ...known);
  const room = (most - least || Math.abs(most) || 1) / 10;
  return [least - room, most + room];
}

// As many decimals as tell the steps apart, the same for all.
function places(splits) {
  return splits.length < 2 ? 3 : Math.max(0, Math.ceil(-Math.log10(Math.abs(splits[1] - splits[0])) - 1e-9));
}

function options(width) {
  const axis = {
    stroke: colour("--ink"),
    grid: { stroke: colour("--rule-faint"), width: 1 },
    ticks: { stroke: colour("--rule"), width: 1 },
    font: `12px ${NUMBERS}`,
  };
  const line = { stroke: colour("--ink"), points: { show: false } };
  const even = (plot, splits) => splits.map((value) => value.toFixed(places(splits)));
  const whole = (plot, splits) => splits.map((value) => (Number.isInteger(value) ? value : null));
  return {
    width,
    height: HEIGHT,
    legend: { show: false },
    cursor: { show: false },
    scales: { x: { time: false, range: (plot, low, high) => [low - 0.5, high + 0.5] }, y: { range } },
    axes: [{ ...axis, values: whole }, { ...axis, size: 76, values: even }],
    series: [
      {},
      { ...line, width: 1, points: { show: true, size: 8, width: 1.5, fill: colour("--white"), stroke: colour("--ink") } },
      { ...line, width: 2 },
      { ...line, width: 2 },
      { ...line, width: 1, dash: [8, 4, 2, 4] },
    ],
  };
}

export async function start(box) {
  const table = document.getElementById(box.dataset.chart);
  if (!table || box.dataset.started) return;
  const [pieces, values] = figures(table);
  if (pieces.length === 0) return;
  box.dataset.started = "yes";
  await numbersReady();
  const { low, high, nominal } = box.dataset;
  const limits = [low, high, nominal].map((text) => limit(text, pieces.length));
  const plot = new uPlot(options(box.clientWidth || 300), [pieces, values, ...limits], box);
  whenResized(box, () => plot.setSize({ width: box.clientWidth, height: HEIGHT }));
  box.dataset.ready = "yes";
}
