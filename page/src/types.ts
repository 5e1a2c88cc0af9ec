// The documents of the server, as far as the page reads them, figures named without their unit.
import type { Adjust } from './quantity';

export type State =
  'listening' | 'unsteady' | 'turning' | 'settling' | 'reading' | 'there' | 'look-first';

export interface Nudge {
  time_s: number;
  size: number | null;
  overshoot: number | null;
  asked: number | null;
  reversal: boolean;
}

// Of evenspool.align/1: what both channels do.
export interface Pair {
  left_dbfs: number | null;
  right_dbfs: number | null;
  balance_db: number | null;
  reference_dbfs: number | null;
  channel: 'left' | 'right' | null;
  tone_hz: number | null;
  sum_db: number | null;
  delay_us: number | null;
  angle_arcmin: number | null;
  phase_10k_deg: number | null;
  coherence: number | null;
  turn_known: boolean;
  polarity: 'same' | 'opposed';
  phase: { hz: number; degrees: number | null; coherence: number }[];
  figure: number[]; // left, right, left, right ...
}

// evenspool.trim/1, evenspool.align/1
export interface Snapshot {
  adjust: Adjust;
  pair: Pair | null;
  time_s: number;
  state: State;
  error: number | null;
  u95: number | null;
  live: number | null;
  target: number;
  tolerance: number;
  nudges: Nudge[];
  nudge_count: number;
  advice: string;
  reason: string | null;
  note: string | null;
  held_s: number | null;
  final: boolean;
  final_value: number | null;
  final_u95: number | null;
  nominal_hz: number | null;
  heard_hz: number | null;
  tape_error_percent: number | null;
  input_peak_fs: number | null;
  snr_db: number | null;
  overruns: number;
}

export type Phase = 'none' | 'running' | 'waiting' | 'ended' | 'failed';
export type SoundKind = 'none' | 'reference' | 'beat' | 'guide';

export interface Live {
  source: string;
  device: string | null;
  sentence: string | null;
  level: string | null;
  rate_hz: number | null;
  channels: number;
  trimmer_turns: number | null;
  frames: number;
  lost_frames: number;
  overruns: number;
  recording: string | null;
  recording_sentence: string | null;
  sound: SoundKind;
  sound_level_db: number | null;
  sound_sentence: string | null;
  output: string | null;
}

export interface Settings {
  adjust: Adjust;
  reference_dbfs: number | null;
  source: string | null;
  tone_hz: number | null;
  channel: number;
  tape_error_percent: number | null;
  tape_u95_percent: number | null;
  clock_ppm: number | null;
  target: number | null;
  tolerance: number | null;
  class: string | null; // of machine; null: cassette
  record: string | null;
  deck: string | null;
  tape: string | null;
}

// evenspool.bench/1
export interface Facts {
  version: string;
  session: number;
  phase: Phase;
  live: Live | null;
  settings: Settings;
  kept: number | null; // the job that the session became in the records
  missed: number;
}

export interface Believed {
  time_s: number;
  error: number;
  u95: number | null;
}

// evenspool.session/1, evenspool.align-session/1
export interface SessionRecord {
  adjust: Adjust;
  as_found: Believed | null;
  as_left: Believed | null;
  final: boolean;
  nudge_count: number;
  trace: { from_s: number | null; step_s: number; values: (number | null)[] };
}

// evenspool.sources/1
export interface Named {
  name: string;
  about: string | null;
}
export interface Sources {
  inputs: Named[];
  inputs_sentence: string | null;
  rehearsals: Named[];
  classes: string[]; // of machines
}

// evenspool.pairing/1
export interface Pairing {
  lan: boolean;
  address?: string;
  picture?: string;
}
