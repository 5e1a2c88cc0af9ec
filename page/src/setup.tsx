import { useEffect, useState } from 'preact/hooks';
import { requestOf } from './documents';
import { type Adjust, QUANTITIES } from './quantity';
import { classInWords } from './records/classes';
import { useLoaded } from './records/load';
import { numberOf as number, Pick, Trouble, useSending } from './records/parts';
import type { Decks } from './records/types';
import { WhichDeck, WhichTape } from './records/visit';
import { isNamed, SourceFields, useSources } from './source';
import type { Settings, Sources } from './types';

const TONES = [3150, 3000, 1000, 400, 315];
type Kind = 'device' | 'file' | 'rehearse';
const KINDS: [Kind, string][] = [['device', 'A deck on a live input'],
  ['file', 'A capture in a file'], ['rehearse', 'The rehearsal deck']];

interface Form {
  adjust: Adjust;
  reference: string;
  kind: Kind;
  device: string;
  file: string;
  rehearse: string;
  tone: string;
  otherTone: string;
  channel: string;
  tapeError: string;
  tapeU: string;
  clock: string;
  target: string;
  tolerance: string;
  record: string;
  class: string; // of machine; '': nothing said
  deck: string; // names in the records
  tape: string;
}

const text = (value: number | null | undefined) =>
  value === null || value === undefined ? '' : String(value);

function formOf(settings: Settings): Form {
  const source = settings.source ?? '';
  const at = source.indexOf(':');
  const kind = (at < 0 ? 'rehearse' : source.slice(0, at)) as Kind;
  const name = source.slice(at + 1);
  const tone = settings.tone_hz;
  const usual = tone === null || TONES.includes(tone);
  return {
    adjust: settings.adjust,
    reference: text(settings.reference_dbfs),
    kind,
    device: kind === 'device' ? name : '',
    file: kind === 'file' ? name : '',
    rehearse: kind === 'rehearse' ? name : '',
    tone: usual ? text(tone) : 'other',
    otherTone: usual ? '' : text(tone),
    channel: String(settings.channel),
    tapeError: text(settings.tape_error_percent),
    tapeU: text(settings.tape_u95_percent),
    clock: text(settings.clock_ppm),
    target: text(settings.target),
    tolerance: text(settings.tolerance),
    record: settings.record ?? '',
    class: settings.class ?? '',
    deck: settings.deck ?? '',
    tape: settings.tape ?? '',
  };
}

function settingsOf(form: Form): Settings {
  const speed = form.adjust === 'speed';
  return {
    adjust: form.adjust,
    reference_dbfs: form.adjust === 'level' ? number(form.reference, 'Reference level') : null,
    source: `${form.kind}:${form[form.kind]}`,
    tone_hz: speed ? number(form.tone === 'other' ? form.otherTone : form.tone, 'Test tone') : null,
    channel: speed || form.adjust === 'level' ? Number(form.channel) : 0,
    tape_error_percent: speed ? number(form.tapeError, 'Tape’s error') : null,
    tape_u95_percent: speed ? number(form.tapeU, 'Tape’s uncertainty') : null,
    clock_ppm: speed ? number(form.clock, 'Sound card’s clock') : null,
    target: number(form.target, 'Target'),
    tolerance: number(form.tolerance, 'Tolerance'),
    class: form.adjust === 'azimuth' ? form.class : '',
    record: form.record.trim(),
    deck: speed || form.adjust === 'azimuth' ? form.deck : '',
    tape: speed ? form.tape : '',
  };
}

// Something to do for the first try; else whatever there is.
function firstDeck({ rehearsals }: Sources): string {
  const found = rehearsals.find((deck) => deck.name === 'slow-but-steady') ?? rehearsals[0];
  return found?.name ?? '';
}

export function Setup({ settings }: { settings: Settings }) {
  const [form, setForm] = useState(() => formOf(settings));
  const set = (change: Partial<Form>) => setForm((before) => ({ ...before, ...change }));

  const { sources, look, trouble: unfound } = useSources((found) => setForm((before) => ({
    ...before,
    device: before.device || found.inputs[0]?.name || '',
    rehearse: before.rehearse || firstDeck(found),
  })));
  const { busy, trouble, send } = useSending(() => undefined);
  const start = (event: Event) => {
    event.preventDefault();
    void send('/api/session', () => requestOf(settingsOf(form)));
  };

  return (
    <form class="setup" onSubmit={start}>
      <section class="sheet">
        <h2>What shall be listened to?</h2>
        <SourceFields kinds={KINDS} form={form} set={set} sources={sources} look={look} />
        {form.kind === 'rehearse' && <Rehearsal form={form} set={set} sources={sources} />}
      </section>
      <section class="sheet">
        <h2>What shall be adjusted?</h2>
        <Quantities form={form} set={set} />
      </section>
      {form.adjust === 'speed' && (
        <WhichDeck form={form} set={(change) => set({ ...change, class: '' })} />
      )}
      {form.adjust === 'azimuth' && (
        <section class="sheet">
          <h2>Which machine is it?</h2>
          <Machine form={form} set={set} classes={sources?.classes ?? []} />
        </section>
      )}
      {(form.adjust === 'speed' || form.adjust === 'level') && (
        <section class="sheet">
          <h2>The tape</h2>
          {form.adjust === 'speed' ? <Tape form={form} set={set} /> : <Level form={form} set={set} />}
        </section>
      )}
      <section class="sheet">
        <h2>The goal</h2>
        <Goal form={form} set={set} />
      </section>
      <div class="go">
        <button type="submit" class="main" disabled={busy || !isNamed(form.kind, form[form.kind])}>
          {busy ? 'Opening…' : 'Listen'}</button>
        <p class="soft">Listening needs no open deck: the covers stay on until the coach asks for a
          turn.</p>
        <Trouble text={trouble || unfound} />
      </div>
    </form>
  );
}

interface Part {
  form: Form;
  set: (change: Partial<Form>) => void;
}

function Rehearsal({ form, set, sources }: Part & { sources: Sources | null }) {
  const decks = sources?.rehearsals ?? [];
  const about = decks.find((d) => d.name === form.rehearse)?.about;
  return (
    <>
      <label class="field">Which imaginary deck
        <select value={form.rehearse} onChange={(e) => set({ rehearse: e.currentTarget.value })}>
          {!sources && <option value={form.rehearse}>{form.rehearse || 'Looking…'}</option>}
          {decks.map(({ name }) => <option key={name} value={name}>{name}</option>)}
        </select>
      </label>
      {about && <p class="soft">{about}</p>}
    </>
  );
}

const DECKS: Record<Adjust, string> = { speed: 'slow-but-steady', azimuth: 'leaning-head',
  level: 'uneven-levels', balance: 'uneven-levels' };
const PLAY: Record<Adjust, string> = { speed: 'Play a test tone.',
  azimuth: 'Play the broadband section of a test tape, recorded alike in both channels; a tone alone'
    + ' may be a whole turn off.',
  level: 'Play the reference level of a test tape.',
  balance: 'Play a tone or section that was recorded alike in both channels.' };

// Another quantity has another usual tolerance, and other decks to practise on.
function Quantities({ form, set }: Part) {
  const choose = (adjust: Adjust) => set({ adjust, target: '', tolerance: '',
    channel: adjust === 'level' ? '1' : '0', rehearse: DECKS[adjust] });
  return (
    <>
      <fieldset class="choices">
        <legend class="unseen">What the hand turns</legend>
        {(Object.keys(QUANTITIES) as Adjust[]).map((adjust) => (
          <label key={adjust}><input type="radio" name="adjust" checked={form.adjust === adjust}
            onChange={() => choose(adjust)} /> {QUANTITIES[adjust].choice}</label>
        ))}
      </fieldset>
      <p class="soft">{PLAY[form.adjust]}</p>
    </>
  );
}

function Level({ form, set }: Part) {
  return (
    <div class="fields">
      <label class="field short">Channel
        <select value={form.channel} onChange={(e) => set({ channel: e.currentTarget.value })}>
          <option value="1">left</option>
          <option value="2">right</option>
        </select>
      </label>
      <Field name="Reference level" unit="dBFS" value={form.reference} hint="as heard first"
        onInput={(reference) => set({ reference })} />
    </div>
  );
}

// The tilt in minutes of arc follows from the class's speed and tracks; a deck that is known has one.
function Machine({ form, set, classes }: Part & { classes: string[] }) {
  const decks = useLoaded<Decks>('/api/decks').data?.decks ?? [];
  const known = decks.find((deck) => deck.name === form.deck)?.transport;
  const value = form.class || 'cassette';
  useEffect(() => { // the deck that was chosen says it, until another class is chosen
    if (form.class === '' && known) set({ class: known });
  }, [known, form.class]);
  return (
    <>
      {decks.length > 0 && (
        <Pick name="Deck on the bench" value={form.deck}
          onInput={(deck) => set({ deck, class: '' })}>
          <option value="">not in the records</option>
          {decks.map((deck) => <option key={deck.id} value={deck.name}>{deck.name}</option>)}
        </Pick>
      )}
      <Pick name="Class of machine" value={value} onInput={(chosen) => set({ class: chosen })}
        help="The tilt of the head in minutes of arc is told for it; the delay is the same.">
        {(classes.includes(value) ? classes : [value, ...classes]).map((name) => (
          <option key={name} value={name}>{classInWords(name)}</option>
        ))}
      </Pick>
    </>
  );
}

function Field({ name, unit, value, hint, onInput }: { name: string; unit: string; value: string;
  hint?: string; onInput: (value: string) => void }) {
  return (
    <label class="field short">{name}
      <span class="unit"><input type="text" inputMode="decimal" value={value} autocomplete="off"
        placeholder={hint ?? 'not known'} onInput={(e) => onInput(e.currentTarget.value)} />
        {' '}{unit}</span>
    </label>
  );
}

function Tape({ form, set }: Part) {
  return (
    <>
      <WhichTape form={form} set={set} />
      <div class="fields">
        <label class="field short">Test tone
          <select value={form.tone} onChange={(e) => set({ tone: e.currentTarget.value })}>
            <option value="">the nearest one</option>
            {TONES.map((t) => <option key={t} value={String(t)}>{t} Hz</option>)}
            <option value="other">another</option>
          </select>
        </label>
        {form.tone === 'other' && <Field name="Its frequency" unit="Hz" value={form.otherTone}
          hint="Hz" onInput={(otherTone) => set({ otherTone })} />}
        <label class="field short">Channel
          <select value={form.channel} onChange={(e) => set({ channel: e.currentTarget.value })}>
            <option value="0">the better one</option>
            <option value="1">left</option>
            <option value="2">right</option>
          </select>
        </label>
      </div>
      <h3>Its certificate</h3>
      <p class="soft">The speed error of the deck that recorded the tape; + is fast. It is taken off
        every reading.</p>
      <div class="fields">
        <Field name="Error" unit="%" value={form.tapeError}
          onInput={(tapeError) => set({ tapeError })} />
        <Field name="Uncertainty ±" unit="%" value={form.tapeU} onInput={(tapeU) => set({ tapeU })} />
        <Field name="Sound card’s clock" unit="ppm" value={form.clock}
          onInput={(clock) => set({ clock })} />
      </div>
    </>
  );
}

function Goal({ form, set }: Part) {
  const { unit, tolerance: usual } = QUANTITIES[form.adjust];
  return (
    <div class="fields">
      <Field name="Target" unit={unit} value={form.target} hint="0"
        onInput={(target) => set({ target })} />
      <Field name="Tolerance ±" unit={unit} value={form.tolerance} hint={String(usual)}
        onInput={(tolerance) => set({ tolerance })} />
      <label class="field">Keep the raw sound in a file
        <input type="text" value={form.record} placeholder="no" autocomplete="off"
          spellcheck={false} onInput={(e) => set({ record: e.currentTarget.value })} />
      </label>
    </div>
  );
}
