import { useState } from 'preact/hooks';
import { useLoaded } from './load';
import { Entry, numberOf, Pick, Title, Trouble, useSending } from './parts';
import { hrefOf } from './route';
import { figure, today } from './telling';
import type { Decks, Trust } from './types';

const NOTHING = { recorded: '', tape: '', heard: '', u: '', recordedAt: '', note: '' };

// One comparison of two decks: recorded on one, heard on the other.
export function PlayForm({ played }: { played: string }) {
  const decks = useLoaded<Decks>('/api/decks');
  const trust = useLoaded<Trust>('/api/trust');
  const [form, setForm] = useState({ ...NOTHING, played, playedAt: today() });
  const [kept, setKept] = useState('');
  const set = (change: Partial<typeof form>) => setForm((before) => ({ ...before, ...change }));
  const { busy, trouble, send } = useSending((answer) => {
    setKept((answer as { text: string | null }).text ?? 'Kept: the two decks are compared.');
    set({ heard: '', note: '' });
  });
  const names = decks.data?.decks.map((deck) => deck.name) ?? [];
  const tapes = trust.data?.tapes.filter((tape) => tape.recorded_on !== null) ?? [];
  const tape = tapes.find((one) => one.name === form.tape);
  const recorder = tape?.recorded_on ?? form.recorded;
  const options = names.map((name) => <option key={name} value={name}>{name}</option>);
  return (
    <form class="records narrow" onSubmit={(e) => {
      e.preventDefault();
      setKept('');
      send('/api/plays/add', () => ({ recorded_on: tape ? null : form.recorded, tape: form.tape,
        played_on: form.played, heard_percent: numberOf(form.heard, 'Heard'),
        u95_percent: numberOf(form.u, 'Uncertainty'), recorded_at: form.recordedAt || null,
        played_at: form.playedAt === today() ? null : form.playedAt, note: form.note }));
    }}>
      <p class="back"><a href={hrefOf('trust')}>Trust</a></p>
      <Title>Enter a play</Title>
      <section class="sheet">
        <p>A tone recorded on one deck and played on another tells how much faster the second runs
          than the first; neither needs to be true. Measure what is heard with a check of the
          capture, without any certificate.</p>
        <div class="fields">
          <Pick name="Tape" value={form.tape} onInput={(value) => set({ tape: value })}>
            <option value="">not known by name</option>
            {tapes.map((one) => <option key={one.id} value={one.name}>{one.name}</option>)}
          </Pick>
          {tape
            ? <p class="field short">Recorded on<span class="given-value">{tape.recorded_on} (the
                tape’s record says so)</span></p>
            : <Pick name="Recorded on" value={form.recorded}
                onInput={(value) => set({ recorded: value })}>
                <option value="">choose…</option>{options}</Pick>}
          <Pick name="Played on" value={form.played} onInput={(value) => set({ played: value })}>
            <option value="">choose…</option>{options}</Pick>
        </div>
        {recorder !== '' && recorder === form.played && (
          <p class="note">The same deck on both sides: its error cancels, so this says nothing about
            its speed. Kept all the same, it tests whether the deck has drifted since it recorded the
            tape.</p>
        )}
        <div class="fields">
          <Entry name="Heard" unit="%" value={form.heard} needed hint="+ is too high"
            onInput={(value) => set({ heard: value })} help="100 × (heard / written − 1)" />
          <Entry name="Uncertainty ±" unit="%" value={form.u} needed hint="95 %"
            onInput={(value) => set({ u: value })} help="the check’s ±, 0.04 is usual" />
        </div>
        <div class="fields">
          {!tape && <Entry name="Recorded when" type="date" value={form.recordedAt}
            onInput={(value) => set({ recordedAt: value })} help="open: on the day of the playing" />}
          <Entry name="Played when" type="date" value={form.playedAt}
            onInput={(value) => set({ playedAt: value })} />
          <Entry name="Note" value={form.note} wide hint="none"
            onInput={(value) => set({ note: value })} />
        </div>
        {tape && <p class="soft">This tape: {figure(tape)}.</p>}
      </section>
      <div class="go">
        <button type="submit" disabled={busy || recorder === '' || form.played === ''}>
          Keep the play</button>
        <div role="status">{kept && <p>{kept} <a href={hrefOf('trust')}>See the picture</a></p>}</div>
        <Trouble text={trouble} />
      </div>
    </form>
  );
}
