import { type Quantity, quantityOf } from './quantity';
import type { Settings, Snapshot } from './types';
import { plain, sideInWords, sideOf } from './words';

const WIDEST = 100; // times the tolerance, at the ends

interface Props {
  snapshot: Snapshot | null;
  settings: Settings;
}

// Slow, early or soft on the left, the target in the middle. Even steps near the target, ever smaller ones away
// from it, so that one scale serves from first look to last touch.
function place(off: number, tolerance: number): number {
  const share = Math.log1p(Math.abs(off) / tolerance) / Math.log1p(WIDEST);
  return 50 + Math.sign(off) * 50 * Math.min(share, 1);
}

export function Scale({ snapshot, settings }: Props) {
  const quantity = quantityOf(settings);
  const target = snapshot?.target ?? settings.target ?? 0;
  const tolerance = snapshot?.tolerance ?? settings.tolerance ?? quantity.tolerance;
  const at = (value: number) => place(value - target, tolerance);
  const error = snapshot?.error ?? null;
  const u = snapshot?.u95 ?? 0;
  const live = snapshot?.live ?? null;
  return (
    <div class="scale" role="img" aria-label={spoken(snapshot, target, tolerance, quantity)}>
      <div class="rail">
        <div class="zone" style={{ left: `${at(target - tolerance)}%`,
          right: `${100 - at(target + tolerance)}%` }} />
        <div class="middle-line" />
        {error !== null && (
          <>
            <div class="spread" style={{ left: `${at(error - u)}%`,
              right: `${100 - at(error + u)}%` }} />
            <div class="pointer" style={{ left: `${at(error)}%` }} />
          </>
        )}
        {error === null && live !== null &&
          <div class="moving" style={{ left: `${at(live)}%` }} />}
      </div>
      <div class="ticks">
        {[-100, -30, -10, -3, -1, 1, 3, 10, 30, 100].map((n) => (
          <span key={n} class={[1, 10, 100].includes(Math.abs(n)) ? 'main' : ''}
            style={{ left: `${place(n, 1)}%` }}>
            {n < 0 ? '\u2212' : '+'}{plain(Math.abs(n) * tolerance)}
          </span>
        ))}
      </div>
      <div class="ends"><span>◂ {quantity.low}</span>
        <span>target {target === 0 ? '0' : target.toFixed(2)} ± {plain(tolerance)} {quantity.unit}</span>
        <span>{quantity.high} ▸</span></div>
    </div>
  );
}

function spoken(snapshot: Snapshot | null, target: number, tolerance: number,
  quantity: Quantity): string {
  const { low, high, digits, spoken: unit } = quantity;
  const goal = `target ${target} ${unit}, give or take ${tolerance}`;
  const error = snapshot?.error;
  if (!snapshot || error === null || error === undefined)
    return `Scale from ${low} to ${high}, ${goal}; no reading`;
  const inside = Math.abs(error - target) <= tolerance ? 'inside' : 'outside';
  return `Scale from ${low} to ${high}, ${goal}; the reading is ${inside} the tolerance, `
    + `${sideInWords(sideOf(error, target, digits), quantity)}`;
}
