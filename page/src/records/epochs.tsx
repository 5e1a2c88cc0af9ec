import { useEffect, useRef, useState } from 'preact/hooks';
import { day, figure } from './telling';
import type { Epoch, Known } from './types';

const HEIGHT = 190;
const LEFT = 64;
const TOP = 14;
const BOTTOM = 40;
const SHOWN_MOST = 12;

interface Props {
  epochs: Epoch[];
  known: Known[];
}

// The width that the picture has on this screen.
export function useWidth(usual: number): [{ current: HTMLDivElement | null }, number] {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(usual);
  useEffect(() => {
    const at = place.current;
    if (!at) return undefined;
    const look = () => setWidth(Math.max(at.clientWidth, 240));
    const watch = new ResizeObserver(look);
    watch.observe(at);
    look();
    return () => watch.disconnect();
  }, []);
  return [place, width];
}

// One error with its uncertainty for each time between two adjustments; the table says the same.
export function Epochs({ epochs, known }: Props) {
  const [place, width] = useWidth(600);
  const shown = epochs.slice(-SHOWN_MOST).map((epoch) => ({ epoch,
    of: known.find((deck) => deck.epoch_id === epoch.id) }));
  const told = shown.filter((row) => row.of && row.of.error_percent !== null);
  return (
    <>
      <div ref={place} class="picture">
        {told.length > 0 && <Chart rows={shown} width={width} />}
      </div>
      <table>
        <thead><tr><th scope="col">Since</th><th scope="col">What was done</th>
          <th scope="col">Speed</th></tr></thead>
        <tbody>
          {[...shown].reverse().map(({ epoch, of }) => (
            <tr key={epoch.id}>
              <td>{epoch.began ? day(epoch.began) : 'the beginning'}</td>
              <td>{epoch.why ?? (epoch.number === 1 ? 'as it came' : '')}</td>
              <td>{of ? figure(of) : 'not known'}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

type Row = { epoch: Epoch; of: Known | undefined };

function Chart({ rows, width }: { rows: Row[]; width: number }) {
  const ends = rows.flatMap(({ of }) => (of && of.error_percent !== null
    ? [of.error_percent - (of.u95_percent ?? 0), of.error_percent + (of.u95_percent ?? 0)] : []));
  const step = stepFor(Math.max(...ends, 0.1) - Math.min(...ends, -0.1));
  const low = Math.floor(Math.min(...ends, -0.1) / step) * step;
  const high = Math.ceil(Math.max(...ends, 0.1) / step) * step;
  const y = (percent: number) => TOP + ((high - percent) / (high - low)) * (HEIGHT - TOP - BOTTOM);
  const column = (width - LEFT) / rows.length;
  const x = (i: number) => LEFT + (i + 0.5) * column;
  const marks = Array.from({ length: Math.round((high - low) / step) + 1 }, (_, i) => low + i * step);
  return (
    <svg class="epochs" width={width} height={HEIGHT} role="img"
      aria-label="Chart of the speed between the adjustments; the table below has its figures">
      {marks.map((mark) => (
        <g key={mark}>
          <line class={Math.abs(mark) < step / 2 ? 'true-line' : 'grid-line'} x1={LEFT} x2={width}
            y1={y(mark)} y2={y(mark)} />
          <text class="mark-text" x={LEFT - 8} y={y(mark) + 4} text-anchor="end">
            {label(mark, step)}</text>
        </g>
      ))}
      {rows.map(({ epoch, of }, i) => (
        <g key={epoch.id}>
          {i > 0 && <line class="turn-line" x1={x(i) - column / 2} x2={x(i) - column / 2} y1={TOP}
            y2={HEIGHT - BOTTOM} />}
          {of && of.error_percent !== null
            ? <Bar x={x(i)} low={y(of.error_percent - (of.u95_percent ?? 0))}
                high={y(of.error_percent + (of.u95_percent ?? 0))} at={y(of.error_percent)} />
            : <text class="mark-text" x={x(i)} y={y(0) - 6} text-anchor="middle">?</text>}
          <text class="mark-text" x={x(i)} y={HEIGHT - 22} text-anchor="middle">
            {column > 84 ? shortDay(epoch) : String(epoch.number)}</text>
        </g>
      ))}
      <text class="mark-text" x={LEFT} y={HEIGHT - 4}>+ is fast, − is slow; bars: 95 %</text>
    </svg>
  );
}

function Bar({ x, low, high, at }: { x: number; low: number; high: number; at: number }) {
  return (
    <>
      <path class="error-bar" d={`M${x} ${low}V${high}M${x - 9} ${low}h18M${x - 9} ${high}h18`} />
      <circle class="error-dot" cx={x} cy={at} r="5" />
    </>
  );
}

function stepFor(span: number): number {
  return [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10].find((s) => span / s <= 5) ?? 20;
}

function label(mark: number, step: number): string {
  if (Math.abs(mark) < step / 2) return 'true';
  const text = Math.abs(mark).toFixed(step < 0.1 ? 2 : step < 1 ? 1 : 0);
  return `${mark < 0 ? '−' : '+'}${text} %`;
}

function shortDay(epoch: Epoch): string {
  return epoch.began ? day(epoch.began) : 'at first';
}
