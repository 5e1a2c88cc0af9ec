// Numbers and states in words.
import type { Quantity } from './quantity';
import type { Snapshot, State } from './types';

const MINUS = '\u2212';

export function signed(value: number, digits = 2): string {
  const text = Math.abs(value).toFixed(digits);
  if (Number(text) === 0) return text;
  return (value < 0 ? MINUS : '+') + text;
}

// Never shown as nothing.
export function uncertainty(value: number, digits = 2): string {
  return Math.max(value, 10 ** -digits).toFixed(digits);
}

// A sentence of the coach's, which writes for a terminal, as it is set on a page.
export function typeset(sentence: string): string {
  return sentence.replace(/(^|\s)-(?=\d)/g, `$1${MINUS}`).replaceAll(' %', '\u00a0%')
    .replace(/(\d) us\b/g, '$1\u00a0µs').replace(/(\d) dB\b/g, '$1\u00a0dB')
    .replace('with --tone HZ', 'before listening, as the test tone');
}

export type Side = 'low' | 'high' | 'even';

// Which side of the target the deck is on; even: nothing is left at the digits shown.
export function sideOf(error: number, target: number, digits = 2): Side {
  const off = error - target;
  if (Math.abs(off) < 0.5 * 10 ** -digits) return 'even';
  return off < 0 ? 'low' : 'high';
}

export function sideInWords(side: Side, quantity: Quantity): string {
  return side === 'even' ? 'even' : quantity[side];
}

const stateWords: Record<State, string> = {
  listening: 'Listening',
  unsteady: 'Not steady yet',
  turning: 'Turning',
  settling: 'Settling',
  reading: 'Reading',
  there: 'There',
  'look-first': 'Stop: look first',
};

const reasonWords: Record<string, string> = {
  silence: 'Nothing heard',
  'other-sound': 'No test tone',
  'two-tones': 'Two tones',
  'wrong-tone': 'Wrong tone',
  'unusual-tone': 'Unusual tone',
  'tone-unsure': 'Which tone?',
  dropout: 'Dropout',
  gone: 'Sound is gone',
  'left-dead': 'Left is silent',
  'right-dead': 'Right is silent',
  'same-sound': 'Mono input',
  'nothing-common': 'Nothing in common',
};

export function inWords(snapshot: Snapshot): string {
  if (snapshot.state === 'there' && snapshot.final) return 'Done';
  if (snapshot.reason === 'gone' && snapshot.adjust === 'speed') return 'Tone is gone';
  const reason = snapshot.state === 'listening' && snapshot.reason;
  return (reason && reasonWords[reason]) || stateWords[snapshot.state];
}

export function sourceInWords(source: string): string {
  const at = source.indexOf(':');
  const kind = source.slice(0, at);
  const name = source.slice(at + 1);
  if (kind === 'rehearse') return `Rehearsal deck: ${name}`;
  if (kind === 'file') return `Capture: ${name.split('/').pop()}`;
  return name === '' ? 'The usual input' : `Input: ${name}`;
}

export function ago(seconds: number): string {
  if (seconds < 90) return `${Math.round(seconds)} s ago`;
  return `${Math.round(seconds / 60)} min ago`;
}

// 0.3 -> "0.3", 30 -> "30": the marks of the scale.
export function plain(value: number): string {
  return Number(value.toPrecision(2)).toString();
}
