import { useEffect, useRef } from 'preact/hooks';
import uPlot from 'uplot';
import { type Course, SPAN_S } from './course';
import { type Quantity, QUANTITIES, quantityOf } from './quantity';
import type { Nudge, Snapshot } from './types';
import { signed } from './words';

const HEIGHT = 250;
const DRAW_MS = 100;
const DRAW_CALMLY_MS = 1000;

interface Props {
  course: Course;
  snapshot: Snapshot | null;
}

interface Aim {
  target: number;
  tolerance: number;
  nudges: Nudge[];
  quantity: Quantity;
}

// The chart is a picture to a screen reader; the nudges beside it are a table.
export function Trace({ course, snapshot }: Props) {
  const place = useRef<HTMLDivElement>(null);
  const aim = useRef<Aim>({ target: 0, tolerance: 0.1, nudges: [], quantity: QUANTITIES.speed });
  if (snapshot) {
    aim.current = { target: snapshot.target, tolerance: snapshot.tolerance,
      nudges: snapshot.nudges, quantity: quantityOf(snapshot) };
  }

  useEffect(() => {
    const at = place.current;
    if (!at) return undefined;
    let chart = draw(at, aim);
    const dark = matchMedia('(prefers-color-scheme: dark)');
    const calm = matchMedia('(prefers-reduced-motion: reduce)');
    let drawnAt = 0;
    const refresh = () => {
      const now = performance.now();
      if (document.hidden || now - drawnAt < (calm.matches ? DRAW_CALMLY_MS : DRAW_MS)) return;
      drawnAt = now;
      chart.setData([course.time, course.value] as uPlot.AlignedData);
    };
    const repaint = () => {
      chart.destroy();
      chart = draw(at, aim);
    };
    const timer = setInterval(refresh, DRAW_MS / 2);
    const watch = new ResizeObserver(() => chart.setSize({ width: at.clientWidth, height: HEIGHT }));
    watch.observe(at);
    dark.addEventListener('change', repaint);
    return () => {
      clearInterval(timer);
      watch.disconnect();
      dark.removeEventListener('change', repaint);
      chart.destroy();
    };
  }, [course]);

  return <div class="chart" ref={place} role="img" aria-label={spoken(course, snapshot)} />;
}

function spoken(course: Course, snapshot: Snapshot | null): string {
  const values = course.value.filter((p): p is number => p !== null);
  if (values.length === 0) return 'Chart: nothing was heard yet';
  const low = signed(Math.min(...values), 1);
  const high = signed(Math.max(...values), 1);
  const count = snapshot?.nudge_count ?? 0;
  const { hero, spoken: unit } = quantityOf(snapshot);
  return `Chart over the last two minutes, ${hero}: between ${low} and ${high} ${unit}, `
    + `${count === 1 ? '1 nudge' : `${count} nudges`} so far`;
}

function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

// Always the tolerance with room around it; grows at once and in whole steps, so it stands still.
function range(aim: Aim, low: number | null, high: number | null): [number, number] {
  const room = 4 * aim.tolerance;
  const bottom = Math.min(low ?? aim.target, aim.target - room);
  const top = Math.max(high ?? aim.target, aim.target + room);
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100].find((s) => (top - bottom) / s <= 8) ?? 200;
  return [Math.floor(bottom / step - 0.1) * step, Math.ceil(top / step + 0.1) * step];
}

function draw(at: HTMLElement, aim: { current: Aim }): uPlot {
  const ink = colour('--ink');
  const axis: uPlot.Axis = { stroke: colour('--soft-ink'), font: '13px system-ui, sans-serif',
    grid: { stroke: colour('--rule'), width: 1 }, ticks: { stroke: colour('--rule'), width: 1 } };
  return new uPlot({
    width: at.clientWidth,
    height: HEIGHT,
    legend: { show: false },
    cursor: { show: false },
    padding: [24, 20, 0, 0],
    scales: {
      x: { time: false, range: (_u, low, high) => [(high ?? 0) - span(low, high), high ?? 0] },
      y: { range: (_u, low, high) => range(aim.current, low, high) },
    },
    axes: [
      { ...axis, size: 32, splits: (u) => splits(u.scales['x']?.min ?? 0, u.scales['x']?.max ?? 0),
        values: (u, marks) => marks.map((m) => secondsBefore(m, u.scales['x']?.max ?? 0)) },
      { ...axis, size: 72, values: (_u, marks) => marks.map((m) =>
        `${signed(m, digits(marks, aim.current.quantity))} ${aim.current.quantity.unit}`) },
    ],
    series: [{}, { stroke: ink, width: 1.5, spanGaps: false, points: { show: false } }],
    hooks: {
      drawAxes: [(u) => drawZone(u, aim.current)],
      draw: [(u) => drawNudges(u, aim.current.nudges)],
    },
  }, [[], []], at);
}

// Two minutes; less while there is less, in whole steps so that it does not creep.
function span(low: number | null, high: number | null): number {
  const there = (high ?? 0) - (low ?? 0);
  return [30, 60].find((s) => there <= s) ?? SPAN_S;
}

function splits(from: number, now: number): number[] {
  const step = now - from > 60 ? 30 : now - from > 30 ? 20 : 10;
  const marks = [];
  for (let mark = now; mark >= from - 0.01; mark -= step) marks.unshift(mark);
  return marks;
}

function secondsBefore(mark: number, now: number): string {
  const seconds = Math.round(now - mark);
  return seconds === 0 ? 'now' : `\u2212${seconds} s`;
}

function digits(marks: number[], quantity: Quantity): number {
  const fine = marks.length > 1 && Math.abs((marks[1] ?? 0) - (marks[0] ?? 0)) < 0.1;
  return quantity.digits - (fine ? 0 : 1);
}

function drawZone(u: uPlot, aim: Aim) {
  const { ctx, bbox } = u;
  const top = u.valToPos(aim.target + aim.tolerance, 'y', true);
  const bottom = u.valToPos(aim.target - aim.tolerance, 'y', true);
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  ctx.fillStyle = colour('--zone');
  ctx.fillRect(bbox.left, top, bbox.width, Math.max(bottom - top, 2));
  ctx.strokeStyle = colour('--there');
  ctx.setLineDash([6, 4]);
  ctx.lineWidth = devicePixelRatio;
  for (const y of [top, bottom]) {
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
  }
  ctx.restore();
}

function drawNudges(u: uPlot, nudges: Nudge[]) {
  const { ctx, bbox } = u;
  const scale = devicePixelRatio;
  ctx.save();
  ctx.lineWidth = scale;
  ctx.font = `${12 * scale}px system-ui, sans-serif`;
  ctx.textAlign = 'center';
  ctx.textBaseline = 'middle';
  nudges.forEach((nudge, i) => {
    const x = u.valToPos(nudge.time_s, 'x', true);
    if (x < bbox.left || x > bbox.left + bbox.width) return;
    ctx.strokeStyle = ctx.fillStyle = colour('--mark');
    ctx.beginPath();
    ctx.moveTo(x, bbox.top);
    ctx.lineTo(x, bbox.top + bbox.height);
    ctx.stroke();
    ctx.beginPath();
    ctx.arc(x, bbox.top - 10 * scale, 9 * scale, 0, 2 * Math.PI);
    ctx.fill();
    ctx.fillStyle = colour('--sheet');
    ctx.fillText(String(i + 1), x, bbox.top - 9.5 * scale);
  });
  ctx.restore();
}
