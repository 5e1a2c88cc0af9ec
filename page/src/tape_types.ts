// The documents of a test tape that is being read, as far as the page looks at them.

export type SectionState = 'to-come' | 'now' | 'heard' | 'in-part' | 'missed';

export interface Section {
  name: string;
  kind: string;
  state: SectionState;
  marker: boolean;
  figures: string | null;
}

// evenspool.tape-live/1; without a session only the first two.
export interface TapeLive {
  session: number;
  phase: 'none' | 'running' | 'waiting' | 'ended' | 'failed';
  source: string;
  deck: string | null; // names in the records
  tape: string | null;
  kept: { id: number; deck: string } | null; // the reading that it became
  device: string | null;
  sentence: string | null;
  level: string | null;
  ending: string | null;
  gaps: number;
  recording: string | null;
  recording_sentence: string | null;
  time_s: number | null;
  left_s: number | null;
  error_percent: number | null;
  programme: string | null;
  side: 'a' | 'b' | null;
  measuring: boolean;
  strange_id: number | null;
  sections: Section[];
}

export type Verdict = 'leave' | 'adjust' | 'look-first';

// evenspool.tape/1
export interface TapeResult {
  verdicts: { what: string; verdict: Verdict; text: string; source: string | null }[];
  warnings: { code: string; text: string }[];
  tape_share: { known: boolean; text: string | null };
  equalisation_hint: string | null;
}
