import { useEffect, useState } from 'preact/hooks';
import { CLASSES } from './classes';
import { useLoaded } from './load';
import { Entry, numberOf, Pick, Title, Trouble, useSending, Waiting } from './parts';
import { goTo, hrefOf } from './route';
import type { DeckRecord, History } from './types';

const SIZES: [keyof DeckRecord, string][] = [['capstan_m', 'Capstan, diameter'],
  ['pinch_roller_m', 'Pinch roller, diameter'], ['flywheel_m', 'Flywheel, diameter'],
  ['motor_pulley_m', 'Motor pulley, diameter'], ['belt_m', 'Belt, length'],
  ['idler_m', 'Idler, diameter'], ['hub_radius_m', 'Hub, radius']];

type Form = Record<string, string>;

function formOf(deck: DeckRecord | null): Form {
  const form: Form = { name: deck?.name ?? '', transport: deck?.transport ?? 'cassette',
    photo: deck?.photo ?? '', notes: deck?.notes ?? '', began: '',
    speed: scaled(deck?.speed_m_s ?? null, 100) };
  for (const [key] of SIZES) form[key] = scaled((deck?.[key] ?? null) as number | null, 1000);
  return form;
}

function scaled(value: number | null, by: number): string {
  return value === null ? '' : String(Number((value * by).toPrecision(9)));
}

function unscaled(text: string, what: string, by: number): number | null {
  const value = numberOf(text, what);
  return value === null ? null : value / by;
}

// A deck's record; without a name: a new one.
export function DeckForm({ name }: { name?: string | undefined }) {
  const there = useLoaded<History>(name === undefined ? null
    : `/api/deck?name=${encodeURIComponent(name)}`);
  const [form, setForm] = useState<Form | null>(name === undefined ? formOf(null) : null);
  useEffect(() => {
    if (there.data) setForm(formOf(there.data.deck));
  }, [there.data]);
  return (
    <div class="records narrow">
      <p class="back"><a href={name === undefined ? hrefOf('decks') : hrefOf('decks', name)}>
        {name === undefined ? 'All decks' : name}</a></p>
      <Title>{name === undefined ? 'Add a deck' : `Edit ${name}`}</Title>
      {!form && <Waiting of={there} what="Looking into the records" />}
      {form && <Fields name={name} before={there.data?.deck ?? null} form={form}
        set={(change) => setForm({ ...form, ...change })} />}
    </div>
  );
}

interface Props {
  name: string | undefined;
  before: DeckRecord | null;
  form: Form;
  set: (change: Form) => void;
}

function requestOf({ name, before, form }: Props): object {
  const request: Record<string, unknown> = { name: form.name, transport: form.transport,
    notes: form.notes, speed_m_s: unscaled(form.speed ?? '', 'Speed', 100) };
  for (const [key, what] of SIZES) request[key] = unscaled(form[key] ?? '', what, 1000);
  if (form.photo !== (before?.photo ?? '')) request.photo = form.photo;
  if (name === undefined) request.began = form.began || null;
  else request.deck = name;
  return request;
}

function Fields(props: Props) {
  const { name, form, set } = props;
  const { busy, trouble, send } = useSending(() => goTo('decks', form.name?.trim() ?? ''));
  const entry = (key: string, what: string, unit: string) => (
    <Entry key={key} name={what} unit={unit} value={form[key] ?? ''} hint="not known"
      onInput={(value) => set({ [key]: value })} />
  );
  return (
    <form onSubmit={(e) => {
      e.preventDefault();
      send(name === undefined ? '/api/decks/add' : '/api/decks/edit', () => requestOf(props));
    }}>
      <section class="sheet">
        <Entry name="Name" value={form.name ?? ''} needed wide onInput={(value) => set({ name: value })}
          help="What you call it on the bench; no other deck may have it." />
        <div class="fields">
          <Pick name="Class" value={form.transport ?? ''} onInput={(value) => set({ transport: value })}>
            {CLASSES.map(([key, what]) => <option key={key} value={key}>{what}</option>)}
          </Pick>
          {name === undefined && <Entry name="Runs as it does since" type="date"
            value={form.began ?? ''} onInput={(value) => set({ began: value })}
            help="Left open: since before the records begin." />}
        </div>
        <label class="field">Notes
          <textarea rows={4} value={form.notes} onInput={(e) => set({ notes: e.currentTarget.value })} />
        </label>
      </section>
      <details class="sheet">
        <summary>Sizes of its parts</summary>
        <p class="soft">They name the part behind a flutter. Leave open what you don’t know; measure
          only with the plug pulled.</p>
        <div class="fields">
          {SIZES.map(([key, what]) => entry(key, what, 'mm'))}
          {entry('speed', 'Nominal speed, if not the class’s', 'cm/s')}
        </div>
        <Entry name="Picture" value={form.photo ?? ''} wide hint="none"
          onInput={(value) => set({ photo: value })}
          help="Path of a picture on the bench’s computer; the picture stays where it is." />
      </details>
      <div class="go">
        <button type="submit" disabled={busy}>{name === undefined ? 'Add the deck' : 'Keep'}</button>
        <Trouble text={trouble} />
      </div>
    </form>
  );
}
