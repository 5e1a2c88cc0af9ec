// From the server's documents, whose keys carry their unit, to what the page works with.
import { type Adjust, QUANTITIES } from './quantity';
import type { SessionRecord, Settings, Snapshot } from './types';

type Document = Record<string, unknown>;

function adjustOf(document: Document): Adjust {
  return (document['adjust'] as Adjust | undefined) ?? 'speed';
}

// They are in that unit whatever is adjusted.
const KEPT = new Set(['tape_error_percent', 'tape_u95_percent', 'snr_db', 'sound_level_db']);

// error_percent, error_us or error_db -> error; the bare unit, of a list -> values.
function nameOf(key: string, suffix: string): string {
  if (key === suffix) return 'values';
  if (KEPT.has(key) || !key.endsWith(`_${suffix}`)) return key;
  const name = key.slice(0, -suffix.length - 1);
  return name === 'final' ? 'final_value' : name; // "final" itself is a truth
}

function withoutUnit(value: unknown, suffix: string): unknown {
  if (Array.isArray(value)) return value.map((one) => withoutUnit(one, suffix));
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(Object.entries(value).map(([key, one]) =>
    [nameOf(key, suffix), key === 'pair' ? one : withoutUnit(one, suffix)]));
}

export function snapshotOf(document: Document): Snapshot {
  const adjust = adjustOf(document);
  const snapshot = withoutUnit(document, QUANTITIES[adjust].suffix) as Snapshot;
  return { ...snapshot, adjust, pair: snapshot.pair ?? null };
}

export function recordOf(document: Document): SessionRecord {
  const adjust = adjustOf(document);
  return { ...(withoutUnit(document, QUANTITIES[adjust].suffix) as SessionRecord), adjust };
}

export function settingsOf(document: Document): Settings {
  return withoutUnit(document, QUANTITIES[adjustOf(document)].suffix) as Settings;
}

// The way back: what the server is asked for.
export function requestOf({ target, tolerance, ...rest }: Settings): Document {
  const { suffix } = QUANTITIES[rest.adjust];
  return { ...rest, [`target_${suffix}`]: target, [`tolerance_${suffix}`]: tolerance };
}
