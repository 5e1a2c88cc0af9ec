// Small parts that the places of the records share.
import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { post } from '../bench';
import type { Loaded } from './load';
import { hasMoved } from './route';
import type { Figures } from './types';
import { figure, side, told } from './telling';

// The heading of a place takes the focus when one comes to it from another: so it is read out.
export function Title({ children }: { children: ComponentChildren }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    if (hasMoved()) heading.current?.focus({ preventScroll: true });
  }, []);
  return <h2 class="title" tabIndex={-1} ref={heading}>{children}</h2>;
}

export function Trouble({ text }: { text: string }) {
  return text ? <p role="alert" class="trouble">{told(text)}</p> : null;
}

// What is shown while a document is on its way, or when it did not come.
export function Waiting({ of, what }: { of: Loaded<unknown>; what: string }) {
  if (of.trouble) {
    return (
      <div role="alert" class="trouble">
        <p>{told(of.trouble)}</p>
        <button type="button" class="quiet" onClick={of.reload}>Try again</button>
      </div>
    );
  }
  return <p class="soft">{what}…</p>;
}

export function BigFigure({ of }: { of: Figures }) {
  if (of.error_percent === null)
    return <p class="known-figure unknown">not tied to true speed yet</p>;
  return (
    <p class="known-figure">
      <strong>{figure({ ...of, u95_percent: null })}</strong>
      {of.u95_percent !== null && <> <small>{figure(of).split(' ')[1]}</small></>}
      {' '}<span class="side-word">{side(of)}</span>
    </p>
  );
}

// Where the deck lies between 1 % slow and 1 % fast, and how wide that is known.
export function SpeedBar({ of, most = 1.5 }: { of: Figures; most?: number }) {
  const { error_percent: error, u95_percent: u } = of;
  const at = (percent: number) => 50 + 50 * Math.max(-1, Math.min(1, percent / most));
  return (
    <svg class="speed-bar" viewBox="0 0 100 14" preserveAspectRatio="none" aria-hidden="true">
      <rect class="rail-line" x="0" y="6" width="100" height="2" />
      <rect class="true-mark" x="49.6" y="1" width=".8" height="12" />
      {error !== null && (
        <>
          <rect class="spread-mark" x={at(error - (u ?? 0))} y="3.5"
            width={Math.max(at(error + (u ?? 0)) - at(error - (u ?? 0)), 0.6)} height="7" />
          <rect class="error-mark" x={at(error) - 0.6} y="1.5" width="1.2" height="11" />
        </>
      )}
    </svg>
  );
}

// A button that asks once more before it takes something away.
export function Removing({ what, short, warning, path, form, onDone }: { what: string;
  short?: string; warning: string; path: string; form: object; onDone: () => void }) {
  const [asking, setAsking] = useState(false);
  const [trouble, setTrouble] = useState('');
  const remove = () => post(path, form).then(onDone, (e: Error) => setTrouble(e.message));
  if (!asking) {
    return <button type="button" class="quiet small" aria-label={what}
      onClick={() => setAsking(true)}>{short ?? what}</button>;
  }
  return (
    <div class="asking" role="group" aria-label={what}>
      <p>{warning}</p>
      <button type="button" class="small" onClick={remove}>Yes, remove</button>
      <button type="button" class="quiet small" onClick={() => setAsking(false)}>Keep it</button>
      <Trouble text={trouble} />
    </div>
  );
}

interface EntryProps {
  name: string;
  value: string;
  onInput: (value: string) => void;
  unit?: string;
  hint?: string;
  help?: string;
  needed?: boolean;
  type?: 'text' | 'date';
  wide?: boolean;
}

export function Entry({ name, value, onInput, unit, hint, help, needed, type = 'text', wide }:
EntryProps) {
  return (
    <label class={wide ? 'field' : 'field short'}>{name}
      {type === 'date'
        ? <input type="date" value={value} required={needed}
            onInput={(e) => onInput(e.currentTarget.value)} />
        : <span class="unit"><input type="text" value={value} autocomplete="off" required={needed}
            inputMode={unit ? 'decimal' : 'text'} placeholder={hint}
            onInput={(e) => onInput(e.currentTarget.value)} />{unit ? ` ${unit}` : ''}</span>}
      {help && <span class="help">{help}</span>}
    </label>
  );
}

export function Pick({ name, value, onInput, children, help }: { name: string; value: string;
  onInput: (value: string) => void; children: ComponentChildren; help?: string }) {
  return (
    <label class="field short">{name}
      <select value={value} onChange={(e) => onInput(e.currentTarget.value)}>{children}</select>
      {help && <span class="help">{help}</span>}
    </label>
  );
}

// A comma is as good as a point; an empty field means "not said".
export function numberOf(value: string, what: string): number | null {
  const clean = value.trim().replace(',', '.').replace('\u2212', '-').replace(/[\s\u00a0]/g, '');
  if (clean === '') return null;
  const n = Number(clean);
  if (!Number.isFinite(n)) throw new Error(`${what}: “${value}” is not a number.`);
  return n;
}

// Sends a form and tells what came of it; `make` may throw a sentence.
export function useSending(onDone: (answer: unknown) => void) {
  const [busy, setBusy] = useState(false);
  const [trouble, setTrouble] = useState('');
  const send = async (path: string, make: () => object) => {
    setBusy(true);
    setTrouble('');
    try {
      onDone(await post(path, make()));
    } catch (e) {
      setTrouble((e as Error).message);
    }
    setBusy(false);
  };
  return { busy, trouble, send };
}
