// The documents of the records, as far as the page reads them.
import type { Adjust } from '../quantity';

// A deck from one adjustment to the next, in evenspool.trust/1, .decks/1 and .deck/1
export interface Known {
  name: string;
  epoch: number;
  error_percent: number | null;
  u95_percent: number | null;
  tied: boolean;
  latest: boolean;
  class: string;
  day: string | null;
  tied_to: string | null;
  group: number;
  deck_id: number;
  epoch_id: number;
}

export interface DeckRecord {
  id: number;
  name: string;
  transport: string;
  speed_m_s: number | null;
  capstan_m: number | null;
  pinch_roller_m: number | null;
  flywheel_m: number | null;
  motor_pulley_m: number | null;
  belt_m: number | null;
  idler_m: number | null;
  hub_radius_m: number | null;
  photo: string | null;
  notes: string | null;
}

// evenspool.decks/1
export interface Decks {
  decks: (DeckRecord & Known)[];
}

export interface Figures {
  error_percent: number | null;
  u95_percent: number | null;
}

// Figures of a job: the key's end is the unit of what was adjusted, the others are null or not there.
export type InItsUnit = { [key in `${'error' | 'u95' | 'size'}_${'percent' | 'us' | 'db'}`]?:
  number | null };

// evenspool.jobs/1
export interface Jobs {
  jobs: (JobRecord & { deck_name: string; nudge_count: number; found: InItsUnit | null;
    left: InItsUnit | null })[];
}

export interface JobRecord {
  id: number;
  opened_at: string | null;
  closed_at: string | null;
  asked: string | null;
  adjust: Adjust;
  as_found: number | null;
  as_left: number | null;
}

export interface Epoch {
  id: number;
  number: number;
  began: string | null;
  walk_percent: number | null;
  why: string | null;
}

export interface Reading extends Figures {
  error_us: number | null;
  u95_us: number | null;
  error_db: number | null;
  u95_db: number | null;
  id: number;
  epoch: number | null;
  job: number | null;
  tape: number | null;
  taken_at: string | null;
  schema: string;
  weighted_quasi_peak_percent: number | null;
  capture: string | null;
}

export interface Play {
  id: number;
  recorded_on: number;
  played_on: number;
  recorded_at: string | null;
  played_at: string | null;
  heard_percent: number;
  u_percent: number;
  note: string | null;
  recorded_on_deck: string;
  recorded_on_epoch: number;
  played_on_deck: string;
  played_on_epoch: number;
  tape_name: string | null;
}

export interface BudgetLine {
  what: string;
  formula: string | null;
  source: string | null;
  shape: string | null;
  u_percent: number;
}

export interface Anchor extends Figures {
  id: number;
  epoch: number;
  method: string;
  method_name: string;
  made_at: string | null;
  note: string | null;
  budget: BudgetLine[];
}

// evenspool.deck/1
export interface History {
  deck: DeckRecord;
  trust: Known | null;
  epochs: Epoch[];
  jobs: (JobRecord & { nudges: InItsUnit[];
    remarks: { made_at: string; text: string }[] })[];
  readings: Reading[];
  plays: Play[];
  anchors: Anchor[];
}

export interface Link {
  kind: 'play' | 'anchor';
  id: number;
  recorded_on?: string;
  recorded_on_epoch?: number;
  played_on?: string;
  played_on_epoch?: number;
  tape?: string | null;
  deck?: string;
  epoch?: number;
  method?: string;
  method_name?: string;
  day: string | null;
  value_percent: number;
  u_percent: number;
  role: 'used' | 'drift-check' | 'removed';
  residual_percent: number | null;
  gross_error_percent: number | null;
  suspect: boolean;
}

export interface Next {
  measurement: string;
  deck: string;
  predicted_u95_percent: number | null;
  kind: 'play' | 'anchor';
  other_deck: string | null;
  method: string | null;
  now_u95_percent: number | null;
}

export interface TrustedTape extends Figures {
  id: number;
  name: string;
  path: string | null;
  tied: boolean;
  recorded_on: string | null;
  recorded_on_epoch: number | null;
}

// evenspool.trust/1
export interface Trust {
  day: string;
  decks: Known[];
  tapes: TrustedTape[];
  consistent: boolean | null;
  removed: number;
  untied_decks: number;
  suspects_of_blunder: { kind: 'play' | 'anchor'; id: number; text: string }[];
  next: Next[];
  links: Link[];
}

// evenspool.next/1
export interface Following extends Known {
  next: Next[];
  shares: (Pick<Link, 'kind' | 'id' | 'recorded_on' | 'played_on' | 'method_name'>
    & { share_percent: number })[];
  drift_share_percent: number | null;
}

// evenspool.certificates/1
export interface TapeRecord {
  id: number;
  name: string;
  transport: string;
  programme: string | null;
  nominal_hz: number | null;
  recorded_epoch: number | null;
  recorded_at: string | null;
  certificate_percent: number | null;
  certificate_u95_percent: number | null;
  notes: string | null;
}

export interface Question {
  key: string;
  text: string;
  unit: string | null;
  default: number | null;
  needed: boolean;
  low: number;
  high: number;
  only_choices: boolean;
  choices: { text: string; value: number }[];
}

// evenspool.forms/1
export interface Method {
  method: string;
  name: string;
  text: string;
  formula: string;
  usual_u_percent: number;
  questions: Question[];
}

// evenspool.anchor/1
export interface Outcome {
  error_percent: number;
  u_percent: number;
  u95_percent: number;
  u95_by_shape_percent: number | null;
  budget: BudgetLine[];
  caution: string | null;
  heard_percent: number | null;
  heard_u95_percent: number | null;
}
