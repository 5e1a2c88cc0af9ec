import { useState } from 'preact/hooks';
import { post } from './bench';
import { Entry, numberOf, Trouble, useSending } from './records/parts';
import { type Visit, WhichDeck, WhichTape } from './records/visit';
import { isNamed, SourceFields, useSources } from './source';
import type { Facts } from './types';
import { sourceInWords } from './words';

type Kind = 'device' | 'file';
const KINDS: [Kind, string][] = [['device', 'A deck on a live input'],
  ['file', 'A capture in a file, in real time']];

interface Form {
  kind: Kind;
  device: string;
  file: string;
  programme: string;
  deck: string;
  tape: string;
  tapeError: string;
  tapeU: string;
  asKept: Partial<Visit>; // the certificate as the tape's choice filled it in
  level: string;
  recordedHere: boolean;
  record: string;
}

const BLANK: Form = { kind: 'device', device: '', file: '', programme: '', deck: '', tape: '',
  tapeError: '', tapeU: '', asKept: {}, level: '', recordedHere: false, record: '' };

// A certificate that was left as it is, the server takes from the records with all its digits.
function requestOf(form: Form): object {
  const byHand = form.tape === '' || form.tapeError !== form.asKept.tapeError
    || form.tapeU !== form.asKept.tapeU;
  return {
    source: `${form.kind}:${form[form.kind].trim()}`,
    programme: form.programme.trim(),
    deck: form.deck,
    tape: form.tape,
    tape_error_percent: byHand ? numberOf(form.tapeError, 'Tape’s error') : null,
    tape_u95_percent: byHand ? numberOf(form.tapeU, 'Tape’s uncertainty') : null,
    level_dbfs: numberOf(form.level, 'Reference level'),
    recorded_here: form.recordedHere,
    record: form.record.trim(),
  };
}

export function TapeSetup({ facts }: { facts: Facts | null }) {
  const [form, setForm] = useState(BLANK);
  const set = (change: Partial<Form>) => setForm((before) => ({ ...before, ...change }));
  const coach = facts !== null && (facts.phase === 'running' || facts.phase === 'waiting');

  const { sources, look, trouble: unfound } = useSources((found) => setForm((before) => ({
    ...before,
    device: before.device || found.inputs[0]?.name || '',
  })));
  const { busy, trouble, send } = useSending(() => undefined);
  const start = (event: Event) => {
    event.preventDefault();
    void send('/api/tape/start', () => requestOf(form));
  };

  return (
    <form class="setup" onSubmit={start}>
      <section class="sheet">
        <h3 class="first">Where is it heard?</h3>
        <SourceFields kinds={KINDS} form={form} set={set} sources={sources} look={look} />
        <Entry name="Keep the raw sound in a file" wide value={form.record} hint="no"
          onInput={(record) => set({ record })} />
      </section>
      <WhichDeck form={form} set={set} />
      <section class="sheet">
        <h3 class="first">The tape</h3>
        <Tape form={form} set={set} />
      </section>
      {coach && <CoachListens facts={facts} />}
      <div class="go">
        <button type="submit" class="main"
          disabled={busy || coach || !isNamed(form.kind, form[form.kind])}>
          {busy ? 'Opening…' : 'Listen'}</button>
        <p class="soft">Listening needs no open deck. Wind to the beginning of the side, switch noise
          reduction off, press Listen, then play.</p>
        <Trouble text={trouble || unfound} />
      </div>
    </form>
  );
}

function CoachListens({ facts }: { facts: Facts }) {
  const [trouble, setTrouble] = useState('');
  const stop = () => post('/api/stop').then(() => setTrouble(''), (e: Error) => setTrouble(e.message));
  return (
    <div class="sheet">
      <p>The coach is listening ({sourceInWords(facts.live?.source ?? '')}). Only one of them can
        listen at a time.</p>
      <p class="tape-buttons">
        <button type="button" class="quiet" onClick={stop}>Stop the coach</button></p>
      <Trouble text={trouble} />
    </div>
  );
}

interface Part {
  form: Form;
  set: (change: Partial<Form>) => void;
}

function Tape({ form, set }: Part) {
  return (
    <>
      <p class="soft">The tape’s own markers say which programme and side it is. Name a programme only
        if it is one of your own.</p>
      <WhichTape form={form} set={(asKept) => set({ ...asKept, asKept })} />
      <div class="fields">
        <Entry name="Its error" unit="%" value={form.tapeError} hint="not known"
          onInput={(tapeError) => set({ tapeError })} />
        <Entry name="Uncertainty ±" unit="%" value={form.tapeU} hint="not known"
          onInput={(tapeU) => set({ tapeU })} />
        <Entry name="Reference should read" unit="dBFS" value={form.level} hint="not known"
          onInput={(level) => set({ level })} />
      </div>
      <Entry name="Programme of your own (a file)" wide value={form.programme} hint="no"
        onInput={(programme) => set({ programme })} />
      <label class="check"><input type="checkbox" checked={form.recordedHere}
        onChange={(e) => set({ recordedHere: e.currentTarget.checked })} /> This deck also recorded
        the tape</label>
    </>
  );
}
