// What the records say, in sentences.
import { type Adjust, QUANTITIES } from '../quantity';
import { signed, typeset, uncertainty } from '../words';
import type { Figures, InItsUnit, Known, Method, Next } from './types';

const dayForm = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric',
  timeZone: 'UTC' });
const momentForm = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short',
  year: 'numeric', hour: '2-digit', minute: '2-digit' });

// "2026-05-03" -> "3 May 2026"; a moment also with its time, as the clock on the wall has it.
export function when(time: string | null): string {
  if (!time) return 'day not known';
  const at = new Date(time);
  if (Number.isNaN(at.getTime())) return time;
  return time.length > 10 ? momentForm.format(at) : dayForm.format(at);
}

export function day(time: string | null): string {
  return when(time === null ? null : time.slice(0, 10));
}

export function today(): string {
  const now = new Date();
  const two = (n: number) => String(n).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

// A clause or sentence of the ledger's, which writes for a terminal.
export function told(text: string): string {
  return typeset(text.replace(/\d{4}-\d{2}-\d{2}/g, (found) => when(found))
    .replace(/;? evenspool [^.;]*?(takes it out|shows them|lists what it asks)\.?/g, '.'));
}

export function figure(of: Figures): string {
  return adjusted('speed', of);
}

// A figure of a job, in the unit of what was adjusted.
export function adjusted(adjust: Adjust, of: InItsUnit): string {
  const { suffix, unit, digits } = QUANTITIES[adjust];
  const error = of[`error_${suffix}`] ?? null;
  const u = of[`u95_${suffix}`] ?? null;
  if (error === null) return 'not known';
  return `${signed(error, digits)}\u00a0${unit}`
    + (u === null ? '' : ` ±\u00a0${uncertainty(u, digits)}\u00a0${unit}`);
}

// What a job was with, after a word; nothing for the speed, which is the usual.
export function otherThanSpeed(adjust: Adjust): string {
  return adjust === 'speed' ? '' : `, ${QUANTITIES[adjust].choice.toLowerCase()}`;
}

// Fast or slow, where the uncertainty leaves no doubt which.
export function side({ error_percent: error, u95_percent: u }: Figures): string {
  if (error === null) return '';
  if (Math.abs(error) <= (u ?? 0)) return 'may well be true';
  return error > 0 ? 'fast' : 'slow';
}

export function known(deck: Known): string {
  if (!deck.tied || deck.error_percent === null) return told(deck.tied_to
    ?? 'not tied to true speed yet');
  return told(deck.tied_to ?? 'tied to true speed');
}

// "Attic runs 0.40 % fast, sure to 0.08 %: tied to timed tape length on 3 May 2026."
export function sentence(deck: Known, measure = ''): string {
  if (!deck.tied || deck.error_percent === null)
    return `${deck.name} is ${known(deck)}.${measure ? ` Measure next: ${measure}.` : ''}`;
  const error = deck.error_percent;
  const u = deck.u95_percent;
  const sure = u === null ? '' : `, sure to ${uncertainty(u)}\u00a0%`;
  const runs = Math.abs(error) < 0.005 ? 'runs true'
    : `runs ${Math.abs(error).toFixed(2)}\u00a0% ${error > 0 ? 'fast' : 'slow'}`;
  return `${deck.name} ${runs}${sure}: ${known(deck)}.`;
}

export function methodName(methods: Method[] | null, key: string | null): string {
  return methods?.find((method) => method.method === key)?.name ?? key ?? '';
}

export function shortly(next: Next, methods: Method[] | null): string {
  return next.kind === 'play' ? `compare it with ${next.other_deck ?? 'another deck'}`
    : methodName(methods, next.method);
}

export function predicted(next: Next): string {
  const after = next.predicted_u95_percent;
  if (after === null) return '';
  const now = next.now_u95_percent;
  return `sure to ±\u00a0${uncertainty(after)}\u00a0% after that`
    + (now === null ? '' : `, in place of ±\u00a0${uncertainty(now)}\u00a0%`);
}

export function times(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}
