import { useEffect, useRef } from 'preact/hooks';
import { classInWords } from './records/classes';
import type { Pair, Snapshot } from './types';
import { plain, signed } from './words';

// Both channels, beside the figure: the X-Y figure and the phase for azimuth, the levels for all.
export function PairSheet({ snapshot, machine }: { snapshot: Snapshot | null;
  machine: string | null }) {
  const pair = snapshot?.pair ?? null;
  const azimuth = snapshot?.adjust === 'azimuth';
  return (
    <section class="sheet pair" aria-labelledby="pair-title">
      <h2 id="pair-title">Both channels</h2>
      {pair === null ? <p class="soft">Nothing is heard of them yet.</p> : (
        <div class="pair-parts">
          <Figure pair={pair} />
          {azimuth && <Phase pair={pair} />}
          <div class="pair-facts">
            <Levels pair={pair} tolerance={snapshot?.adjust === 'level' ? snapshot.tolerance : null} />
            {azimuth && <Tilt pair={pair} machine={machine ?? 'cassette'} />}
          </div>
        </div>
      )}
    </section>
  );
}

/* --- X-Y ---------------------------------------------------------------------------------- */

const SIDE = 260;
const KEPT = 6; // figures that are seen at once, the older the fainter

// Left across, right up: one line when both are together, open when one is late.
function Figure({ pair }: { pair: Pair }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const kept = useRef<number[][]>([]);
  useEffect(() => {
    kept.current = [...kept.current, pair.figure].slice(-KEPT);
    const at = canvas.current?.getContext('2d');
    if (at) draw(at, kept.current);
  }, [pair]);
  return (
    <figure class="xy">
      <canvas ref={canvas} width={SIDE * 2} height={SIDE * 2} role="img" aria-label={seen(pair)} />
      <figcaption>left across, right up: a thin line that leans to the right means together
      </figcaption>
    </figure>
  );
}

function seen(pair: Pair): string {
  const coherence = likeness(pair.figure);
  const shape = coherence > 0.98 ? 'a thin line: both together'
    : coherence > 0.7 ? 'a narrow cloud that leans to the right'
      : coherence < -0.5 ? 'leaning to the left: polarity reversed' : 'a wide cloud: not together';
  return `Figure of left against right, ${shape}`;
}

// Correlation of the dots, -1 .. 1.
function likeness(figure: number[]): number {
  let both = 0;
  let left = 0;
  let right = 0;
  for (let i = 0; i + 1 < figure.length; i += 2) {
    const [x, y] = [figure[i] ?? 0, figure[i + 1] ?? 0];
    both += x * y;
    left += x * x;
    right += y * y;
  }
  return left > 0 && right > 0 ? both / Math.sqrt(left * right) : 0;
}

function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

function draw(at: CanvasRenderingContext2D, figures: number[][]) {
  const size = at.canvas.width;
  const middle = size / 2;
  const scale = middle * 0.86;
  at.clearRect(0, 0, size, size);
  at.lineWidth = 2;
  at.strokeStyle = colour('--rule');
  line(at, middle, 0, middle, size);
  line(at, 0, middle, size, middle);
  at.strokeStyle = colour('--there');
  at.setLineDash([10, 8]);
  line(at, middle - scale, middle + scale, middle + scale, middle - scale);
  at.setLineDash([]);
  at.fillStyle = colour('--soft-ink');
  at.font = '26px system-ui, sans-serif';
  at.fillText('left', size - 52, middle - 10);
  at.fillText('right', middle + 10, 28);
  at.fillStyle = colour('--ink');
  figures.forEach((figure, age) => {
    at.globalAlpha = (age + 1) / figures.length;
    for (let i = 0; i + 1 < figure.length; i += 2) {
      const x = middle + (scale * (figure[i] ?? 0)) / 100;
      const y = middle - (scale * (figure[i + 1] ?? 0)) / 100;
      at.fillRect(x - 3, y - 3, 6, 6);
    }
  });
  at.globalAlpha = 1;
}

function line(at: CanvasRenderingContext2D, x1: number, y1: number, x2: number, y2: number) {
  at.beginPath();
  at.moveTo(x1, y1);
  at.lineTo(x2, y2);
  at.stroke();
}

/* --- phase against frequency -------------------------------------------------------------- */

const LOW_HZ = 200;
const HIGH_HZ = 16000;
const WIDE = 420;
const HIGH = 260;
const EDGE = { left: 52, right: 10, top: 12, bottom: 34 };

const across = (hz: number) => EDGE.left + (WIDE - EDGE.left - EDGE.right)
  * (Math.log(hz / LOW_HZ) / Math.log(HIGH_HZ / LOW_HZ));
const down = (degrees: number) => EDGE.top + (HIGH - EDGE.top - EDGE.bottom)
  * ((180 - degrees) / 360);
const wrapped = (degrees: number) => degrees - 360 * Math.round(degrees / 360);

// Points as measured; the curve is what the delay alone would make.
function Phase({ pair }: { pair: Pair }) {
  const points = pair.phase.filter((p) => p.degrees !== null);
  return (
    <figure class="phase">
      <svg viewBox={`0 0 ${WIDE} ${HIGH}`} role="img" aria-label={spokenPhase(pair)}>
        {[-180, -90, 0, 90, 180].map((d) => (
          <g key={d}>
            <path class={d === 0 ? 'zero' : 'grid'} d={`M${EDGE.left} ${down(d)} H${WIDE - EDGE.right}`} />
            <text x={EDGE.left - 8} y={down(d) + 5} text-anchor="end">{signed(d, 0)}°</text>
          </g>
        ))}
        {[200, 500, 1000, 2000, 5000, 10000].map((hz) => (
          <g key={hz}>
            <path class="grid" d={`M${across(hz)} ${EDGE.top} V${HIGH - EDGE.bottom}`} />
            <text x={across(hz)} y={HIGH - 14} text-anchor="middle">{hz < 1000 ? hz : `${hz / 1000}k`}</text>
          </g>
        ))}
        {pair.delay_us !== null && <path class="curve" d={curve(pair.delay_us, pair.polarity)} />}
        {points.map((p) => (
          <circle key={p.hz} cx={across(p.hz)} cy={down(p.degrees ?? 0)}
            r={2 + 3.5 * Math.sqrt(p.coherence)} />
        ))}
      </svg>
      <figcaption>phase of right against left, by frequency in Hz</figcaption>
    </figure>
  );
}

function curve(delayUs: number, polarity: Pair['polarity']): string {
  const steps = 160;
  let path = '';
  let before = NaN;
  for (let i = 0; i <= steps; i += 1) {
    const hz = LOW_HZ * (HIGH_HZ / LOW_HZ) ** (i / steps);
    const degrees = wrapped(-360e-6 * hz * delayUs + (polarity === 'opposed' ? 180 : 0));
    const joined = Math.abs(degrees - before) < 180;
    path += `${joined ? 'L' : 'M'}${across(hz).toFixed(1)} ${down(degrees).toFixed(1)}`;
    before = degrees;
  }
  return path;
}

function spokenPhase(pair: Pair): string {
  const near = (hz: number) => pair.phase.find((p) => Math.abs(p.hz / hz - 1) < 0.05)?.degrees;
  const [low, high] = [near(1000), near(10000)];
  if (low === undefined || low === null || high === undefined || high === null)
    return 'Phase of right against left by frequency: not enough is heard';
  return `Phase of right against left by frequency: ${low.toFixed(0)} degrees at 1 kilohertz, `
    + `${high.toFixed(0)} at 10 kilohertz`;
}

/* --- numbers ------------------------------------------------------------------------------ */

const FLOOR_DBFS = -40;
const place = (dbfs: number) => Math.min(Math.max((dbfs - FLOOR_DBFS) / -FLOOR_DBFS, 0), 1) * 100;

function Levels({ pair, tolerance }: { pair: Pair; tolerance: number | null }) {
  const goal = tolerance === null ? null : pair.reference_dbfs;
  return (
    <div class="levels">
      {([['Left', pair.left_dbfs, 'left'], ['Right', pair.right_dbfs, 'right']] as const)
        .map(([name, dbfs, channel]) => (
          <div key={name} class={pair.channel === channel ? 'followed' : ''}>
            <span>{name}{pair.channel === channel && ' ◂'}</span>
            <div class="bar">
              {dbfs !== null && <div class="filled" style={{ width: `${place(dbfs)}%` }} />}
              {goal !== null && tolerance !== null && (
                <div class="goal" style={{ left: `${place(goal - tolerance)}%`,
                  right: `${100 - place(goal + tolerance)}%` }} />
              )}
            </div>
            <output>{dbfs === null ? 'silent' : `${signed(dbfs, 1)} dBFS`}</output>
          </div>
        ))}
      <p class="balance">{balance(pair)}</p>
    </div>
  );
}

function balance(pair: Pair): string {
  if (pair.balance_db === null) return 'Only one channel is heard.';
  if (Math.abs(pair.balance_db) < 0.05) return 'Both are alike.';
  return `Right is ${Math.abs(pair.balance_db).toFixed(1)} dB ${pair.balance_db < 0 ? 'softer'
    : 'louder'}.`;
}

function Tilt({ pair, machine }: { pair: Pair; machine: string }) {
  const { angle_arcmin: angle, phase_10k_deg: phase, sum_db: sum, tone_hz: tone } = pair;
  return (
    <dl>
      <dt>Head leans by</dt>
      <dd>{angle === null ? 'not known' : `${signed(angle, 1)} minutes of arc`}{' '}
        ({classInWords(machine)})</dd>
      <dt>At 10 kHz</dt><dd>{phase === null ? 'not known' : `${signed(phase, 0)}°`}</dd>
      <dt>Mono sum</dt><dd>{sum === null ? 'not known' : `${signed(sum, 1)} dB, at best 0`}</dd>
      <dt>Sound</dt><dd>{tone === null ? 'broadband' : `a tone of ${plain(Math.round(tone))} Hz`}</dd>
      <dt>Whole turns</dt><dd class={pair.turn_known ? '' : 'warn'}>
        {pair.turn_known ? 'settled' : '⚠ may be one off'}</dd>
      <dt>Polarity</dt><dd class={pair.polarity === 'same' ? '' : 'warn'}>
        {pair.polarity === 'same' ? 'the same' : '⚠ right reversed'}</dd>
    </dl>
  );
}
