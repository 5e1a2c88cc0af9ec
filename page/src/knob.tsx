import { useEffect, useRef, useState } from 'preact/hooks';
import { post } from './bench';

const STEPS = [90, 15, 2]; // degrees: coarse, middle, fine
const FINE = 2;
const COARSE = 15;

// The rehearsal deck's trimmer. Turns are sent one after another, in the order of the clicks.
export function Knob({ turns, screw }: { turns: number; screw: string }) {
  const [trouble, setTrouble] = useState('');
  const queue = useRef(Promise.resolve());
  const turn = (degrees: number) => {
    queue.current = queue.current
      .then(() => post('/api/turn', { turns: degrees / 360 }))
      .then(() => setTrouble(''), (e: Error) => setTrouble(e.message));
  };
  return (
    <section class="sheet knob" aria-labelledby="knob-title">
      <h2 id="knob-title">Rehearsal deck’s {screw}</h2>
      <div class="row">
        <div class="turns" role="group" aria-label="Turn anticlockwise">
          {STEPS.map((d) => <Turn key={d} degrees={-d} onTurn={turn} />)}
        </div>
        <Slot turns={turns} screw={screw} onTurn={turn} />
        <div class="turns" role="group" aria-label="Turn clockwise">
          {[...STEPS].reverse().map((d) => <Turn key={d} degrees={d} onTurn={turn} />)}
        </div>
      </div>
      <p class="soft">With the slot in focus: <kbd>←</kbd> <kbd>→</kbd> turn by {FINE}°,{' '}
        <kbd>Page Down</kbd> <kbd>Page Up</kbd> by {COARSE}°. Which way is which is for the coach to
        find out.</p>
      {trouble && <p role="alert" class="trouble">{trouble}</p>}
    </section>
  );
}

function Turn({ degrees, onTurn }: { degrees: number; onTurn: (degrees: number) => void }) {
  const size = Math.abs(degrees);
  const way = degrees < 0 ? 'anticlockwise' : 'clockwise';
  return (
    <button type="button" aria-label={`${size} degrees ${way}`} onClick={() => onTurn(degrees)}>
      <span aria-hidden="true">{degrees < 0 ? `↺ ${size}°` : `${size}° ↻`}</span>
    </button>
  );
}

function Slot({ turns, screw, onTurn }: { turns: number; screw: string; onTurn: (degrees: number) => void }) {
  const slot = useRef<HTMLDivElement>(null);
  const latest = useRef(onTurn);
  latest.current = onTurn;
  useEffect(() => {
    const at = slot.current;
    const keys: Record<string, number> = { ArrowLeft: -FINE, ArrowDown: -FINE, ArrowRight: FINE,
      ArrowUp: FINE, PageDown: -COARSE, PageUp: COARSE };
    const press = (event: KeyboardEvent) => {
      const degrees = keys[event.key];
      if (degrees === undefined) return;
      event.preventDefault();
      latest.current(degrees);
    };
    at?.addEventListener('keydown', press);
    return () => at?.removeEventListener('keydown', press);
  }, []);
  return (
    <div class="slot" ref={slot} role="spinbutton" tabIndex={0} aria-label={`${screw[0]?.toUpperCase()}${screw.slice(1)}`}
      aria-valuenow={Number(turns.toFixed(3))} aria-valuetext={standing(turns)}>
      <svg viewBox="-50 -50 100 100" aria-hidden="true">
        <circle r="46" />
        <g style={{ transform: `rotate(${turns * 360}deg)` }}>
          <path d="M-34 0 H34" /><path class="tip" d="M0 -38 V-30" />
        </g>
      </svg>
      <span>{standing(turns)}</span>
    </div>
  );
}

function standing(turns: number): string {
  const degrees = Math.round(turns * 360);
  if (degrees === 0) return 'as it was';
  return `${Math.abs(degrees)}° ${degrees < 0 ? 'left' : 'right'} of start`;
}
