// The way to the server: commands, and the stream of events with everything that can happen to it.
import { settingsOf, snapshotOf } from './documents';
import type { TapeLive } from './tape_types';
import type { Facts, Snapshot } from './types';

const RETRY_MS = 1500;
const SILENT_MS = 8000; // the server beats every three seconds
const LOOK_MS = 500;

export class Refused extends Error {}

async function answerOf<T>(response: Response): Promise<T> {
  const text = await response.text();
  if (response.ok) return JSON.parse(text) as T;
  let sentence = text.trim();
  try {
    sentence = (JSON.parse(text) as { text: string }).text;
  } catch { /* it was a plain sentence */ }
  throw new Refused(sentence || `The bench refused (${response.status}).`);
}

export async function get<T>(path: string): Promise<T> {
  return answerOf<T>(await reach(path, {}));
}

export async function post<T = unknown>(path: string, form: object = {}): Promise<T> {
  return answerOf<T>(await reach(path, {
    method: 'POST',
    headers: { 'Content-Type': 'application/json' },
    body: JSON.stringify(form),
  }));
}

async function reach(path: string, how: RequestInit): Promise<Response> {
  try {
    return await fetch(path, how);
  } catch {
    throw new Refused('The bench does not answer; is the program still running?');
  }
}

export interface Hearing {
  facts(facts: Facts): void;
  snapshot(snapshot: Snapshot): void;
  tape(tape: TapeLive): void;
  lost(events: number): void;
  connected(yes: boolean): void;
}

// Follows the stream for as long as the page can be seen; comes back by itself.
export function follow(hearing: Hearing): () => void {
  let source: EventSource | null = null;
  let heardAt = 0;
  let retryAt = 0;

  const heard = <T>(use: (data: T) => void) => (event: MessageEvent<string>) => {
    heardAt = performance.now();
    use(JSON.parse(event.data) as T);
  };

  function close() {
    source?.close();
    source = null;
  }

  function open() {
    close();
    heardAt = performance.now();
    source = new EventSource('/api/stream');
    source.onopen = () => hearing.connected(true);
    source.onerror = () => lose();
    source.addEventListener('facts', heard((facts: Facts) =>
      hearing.facts({ ...facts, settings: settingsOf({ ...facts.settings }) })));
    source.addEventListener('snapshot', heard((document: Record<string, unknown>) =>
      hearing.snapshot(snapshotOf(document))));
    source.addEventListener('tape', heard((tape: TapeLive) => hearing.tape(tape)));
    source.addEventListener('lost', heard((lost: { events: number }) => hearing.lost(lost.events)));
    source.addEventListener('beat', heard(() => undefined));
  }

  function lose() {
    close();
    retryAt = performance.now() + RETRY_MS;
    hearing.connected(false);
  }

  // A browser allows few connections to one server: a tab that nobody sees gives its own back.
  function look() {
    if (document.hidden) {
      close();
      retryAt = 0;
    } else if (!source && performance.now() >= retryAt) {
      open();
    } else if (source && performance.now() - heardAt > SILENT_MS) {
      lose();
    }
  }

  const timer = setInterval(look, LOOK_MS);
  document.addEventListener('visibilitychange', look);
  look();
  return () => {
    clearInterval(timer);
    document.removeEventListener('visibilitychange', look);
    close();
  };
}
