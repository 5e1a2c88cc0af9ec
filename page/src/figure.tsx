import { type Quantity, quantityOf } from './quantity';
import type { Snapshot } from './types';
import { inWords, type Side, sideOf, signed, uncertainty } from './words';

interface Props {
  snapshot: Snapshot | null;
  instead: string; // said when there is no snapshot
}

// The figure, with a wedge on the side to which the deck is off: the side, the shape and the word
// all say the same.
export function Figure({ snapshot, instead }: Props) {
  const error = snapshot?.error ?? null;
  const quantity = quantityOf(snapshot);
  const { digits, unit } = quantity;
  const side = snapshot && error !== null ? sideOf(error, snapshot.target, digits) : null;
  const there = snapshot?.state === 'there';
  const stop = snapshot?.state === 'look-first';
  return (
    <div class={`figure ${side === null ? 'without' : ''}`}>
      {side !== null && <Wedge left shown={side === 'low' && !there} />}
      <div class="middle">
        {snapshot && error !== null
          ? (
            <>
              <p class={`number ${signed(error, digits).length > 5 ? 'long' : ''}`} data-testid="error">
                {signed(error, digits)}<span> {unit}</span>
              </p>
              <p class="side">
                {there && <Mark />}
                <strong>{there ? inWords(snapshot) : word(side, quantity)}</strong>
                <span class="give">± {uncertainty(snapshot.u95 ?? 0, digits)} {unit}</span>
              </p>
            </>
          )
          : (
            <p class="number words" data-testid="state">
              {stop && <StopSign />}
              {snapshot ? inWords(snapshot) : instead}
            </p>
          )}
      </div>
      {side !== null && <Wedge shown={side === 'high' && !there} />}
    </div>
  );
}

// The same in one line, for when the rest is scrolled away.
export function Strip({ snapshot, instead, advice }: Props & { advice: string }) {
  const error = snapshot?.error ?? null;
  const { digits, unit } = quantityOf(snapshot);
  const side = snapshot && error !== null ? sideOf(error, snapshot.target, digits) : null;
  const there = snapshot?.state === 'there';
  return (
    <div class={`strip ${snapshot?.state ?? 'unknown'}`} aria-hidden="true">
      <p class="strip-figure">
        {side === 'low' && !there && '◀ '}
        {snapshot && error !== null ? `${signed(error, digits)} ${unit}` : snapshot ? inWords(snapshot) : instead}
        {side === 'high' && !there && ' ▶'}
        {there && ' ✓'}
      </p>
      <p>{advice}</p>
    </div>
  );
}

function word(side: Side | null, quantity: Quantity): string {
  if (side === 'low') return quantity.lowCried;
  return side === 'high' ? quantity.highCried : 'ON TARGET';
}

function Wedge({ left, shown }: { left?: boolean; shown: boolean }) {
  return (
    <svg class={`wedge ${left ? 'slow' : 'fast'} ${shown ? 'shown' : ''}`} viewBox="0 0 60 100"
      aria-hidden="true">
      <path d={left ? 'M54 6 L8 50 L54 94 Z' : 'M6 6 L52 50 L6 94 Z'} />
    </svg>
  );
}

function Mark() {
  return (
    <svg class="mark" viewBox="0 0 40 40" aria-hidden="true">
      <circle cx="20" cy="20" r="18" />
      <path d="M11 20.5 L17.5 27 L29.5 14" />
    </svg>
  );
}

function StopSign() {
  return (
    <svg class="stop" viewBox="0 0 40 40" aria-hidden="true">
      <path class="plate" d="M13 2 H27 L38 13 V27 L27 38 H13 L2 27 V13 Z" />
      <path class="bar" d="M20 9 V23 M20 30 V31" />
    </svg>
  );
}
