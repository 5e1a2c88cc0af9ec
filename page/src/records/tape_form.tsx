import { useEffect, useState } from 'preact/hooks';
import { CLASSES } from './classes';
import { useLoaded } from './load';
import { Entry, numberOf, Pick, Removing, Title, Trouble, useSending, Waiting } from './parts';
import { goTo, hrefOf } from './route';
import { figure, told } from './telling';
import type { Decks, TapeRecord, Trust, TrustedTape } from './types';

interface Form {
  name: string;
  transport: string;
  homemade: boolean;
  deck: string;
  at: string;
  hz: string;
  error: string;
  u: string;
  notes: string;
}

const text = (value: number | null | undefined) => (value === null || value === undefined ? ''
  : String(value));

function formOf(tape: TapeRecord | null, trusted: TrustedTape | undefined): Form {
  return { name: tape?.name ?? '', transport: tape?.transport ?? 'cassette',
    homemade: tape === null || tape.recorded_epoch !== null, deck: trusted?.recorded_on ?? '',
    at: tape?.recorded_at?.slice(0, 10) ?? '', hz: text(tape?.nominal_hz),
    error: tape?.recorded_epoch === null ? text(tape.certificate_percent) : '',
    u: tape?.recorded_epoch === null ? text(tape.certificate_u95_percent) : '',
    notes: tape?.notes ?? '' };
}

// A tape's record; without a name: a new one.
export function TapeForm({ name }: { name?: string | undefined }) {
  const tapes = useLoaded<{ tapes: TapeRecord[] }>(name === undefined ? null : '/api/tapes');
  const trust = useLoaded<Trust>('/api/trust');
  const [form, setForm] = useState<Form | null>(name === undefined ? formOf(null, undefined) : null);
  const tape = tapes.data?.tapes.find((one) => one.name === name) ?? null;
  const trusted = trust.data?.tapes.find((one) => one.name === name);
  useEffect(() => {
    if (tape && trust.data) setForm(formOf(tape, trusted));
  }, [tape, trust.data]);
  return (
    <div class="records narrow">
      <p class="back"><a href={hrefOf('tapes')}>All tapes</a></p>
      <Title>{name ?? 'Add a tape'}</Title>
      {!form && (tapes.data && !tape ? <Trouble text={`There is no tape called “${name}”.`} />
        : <Waiting of={tapes} what="Looking into the records" />)}
      {trusted && (
        <section class="sheet" aria-label="Its certificate">
          <p class="known-figure"><strong>{figure(trusted)}</strong></p>
          <p>{trusted.path ? `${told(trusted.path)}.` : 'Nobody has said what its error is.'}</p>
        </section>
      )}
      {form && <Fields name={name} before={name === undefined ? null : formOf(tape, trusted)}
        form={form} set={(change) => setForm({ ...form, ...change })} />}
      {tape && (
        <section class="sheet" aria-label="Removing the tape">
          <Removing what="Remove this tape" path="/api/tapes/remove"
            form={{ tape: tape.name, with_history: true }} onDone={() => goTo('tapes')}
            warning="The tape goes from the records; plays and readings made with it stay." />
        </section>
      )}
    </div>
  );
}

interface Props {
  name: string | undefined;
  before: Form | null;
  form: Form;
  set: (change: Partial<Form>) => void;
}

function requestOf({ name, before, form }: Props): object {
  const request: Record<string, unknown> = { name: form.name, transport: form.transport,
    nominal_hz: numberOf(form.hz, 'Test tone'), notes: form.notes };
  if (name !== undefined) request.tape = name;
  if (!form.homemade) {
    request.certificate_percent = numberOf(form.error, 'Stated error');
    request.certificate_u95_percent = numberOf(form.u, 'Uncertainty');
  } else if (form.deck !== before?.deck || form.at !== before?.at) {
    request.recorded_on = form.deck;
    request.recorded_at = form.at || null;
  }
  return request;
}

function Fields(props: Props) {
  const { name, before, form, set } = props;
  const decks = useLoaded<Decks>('/api/decks');
  const { busy, trouble, send } = useSending(() => goTo('tapes'));
  const bought = before !== null && !before.homemade;
  return (
    <form onSubmit={(e) => {
      e.preventDefault();
      send(name === undefined ? '/api/tapes/add' : '/api/tapes/edit', () => requestOf(props));
    }}>
      <section class="sheet">
        <Entry name="Name" value={form.name} needed wide onInput={(value) => set({ name: value })}
          help="What is written on its box; no other tape may have it." />
        {(name === undefined || bought) && (
          <fieldset class="choices">
            <legend>Whence is it?</legend>
            <label><input type="radio" name="origin" checked={form.homemade}
              onChange={() => set({ homemade: true })} /> Recorded on a deck of mine</label>
            <label><input type="radio" name="origin" checked={!form.homemade}
              onChange={() => set({ homemade: false })} /> Bought, with a stated error</label>
          </fieldset>
        )}
        <div class="fields">
          {form.homemade
            ? (
              <>
                <Pick name="Recorded on" value={form.deck} onInput={(value) => set({ deck: value })}>
                  <option value="">choose…</option>
                  {decks.data?.decks.map((deck) => (
                    <option key={deck.id} value={deck.name}>{deck.name}</option>
                  ))}
                </Pick>
                <Entry name="Recorded when" type="date" value={form.at}
                  onInput={(value) => set({ at: value })} help="open: today" />
              </>
            )
            : (
              <>
                <Entry name="Stated error" unit="%" value={form.error} hint="0"
                  onInput={(value) => set({ error: value })} />
                <Entry name="Uncertainty ±" unit="%" value={form.u} hint="95 %"
                  onInput={(value) => set({ u: value })} />
              </>
            )}
          <Entry name="Test tone" unit="Hz" value={form.hz} hint="not known"
            onInput={(value) => set({ hz: value })} />
          <Pick name="Class" value={form.transport} onInput={(value) => set({ transport: value })}>
            {CLASSES.map(([key, what]) => <option key={key} value={key}>{what}</option>)}
          </Pick>
        </div>
        <label class="field">Notes
          <textarea rows={3} value={form.notes} onInput={(e) => set({ notes: e.currentTarget.value })} />
        </label>
      </section>
      <div class="go">
        <button type="submit" disabled={busy || (form.homemade && form.deck === '')}>
          {name === undefined ? 'Add the tape' : 'Keep'}</button>
        <Trouble text={trouble} />
      </div>
    </form>
  );
}
