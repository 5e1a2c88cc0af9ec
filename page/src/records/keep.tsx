import { useState } from 'preact/hooks';
import type { Facts } from '../types';
import { useLoaded } from './load';
import { Entry, Pick, Trouble, useSending } from './parts';
import { hrefOf } from './route';
import type { Decks } from './types';

// Puts what the session came to into the records of a deck, once.
export function KeepJob({ facts }: { facts: Facts }) {
  const decks = useLoaded<Decks>('/api/decks');
  const [deck, setDeck] = useState(facts.settings.deck ?? '');
  const [asked, setAsked] = useState('');
  const [kept, setKept] = useState<{ id: number; deck: string } | null>(null);
  const { busy, trouble, send } = useSending((answer) => setKept(answer as typeof kept));
  if (kept || facts.kept !== null) {
    const where = kept?.deck ?? '';
    return (
      <p role="status" class="kept">Kept as job {kept?.id ?? facts.kept}{where ? <> of{' '}
        <a href={hrefOf('decks', where)}>{where}</a></> : <>; <a href={hrefOf('decks')}>see the
        decks</a></>}.</p>
    );
  }
  const names = decks.data?.decks.map((one) => one.name) ?? [];
  if (decks.data && names.length === 0) {
    return <p class="soft">To keep this job, <a href={hrefOf('new-deck')}>add the deck</a> first; the
      session waits here.</p>;
  }
  return (
    <form class="keep" onSubmit={(e) => {
      e.preventDefault();
      send('/api/jobs/keep', () => ({ deck, tape: facts.settings.tape, asked }));
    }}>
      <h3>Keep this job</h3>
      {facts.live?.source.startsWith('rehearse:') && <p class="note">This was the rehearsal deck: kept
        for a real one, it would tell untruths of it.</p>}
      <div class="fields">
        <Pick name="Deck" value={deck} onInput={setDeck}>
          <option value="">choose…</option>
          {names.map((name) => <option key={name} value={name}>{name}</option>)}
        </Pick>
        <Entry name="What it came for" value={asked} onInput={setAsked} wide hint="nothing said" />
      </div>
      <button type="submit" disabled={busy || deck === ''}>Keep as found, nudges and as left</button>
      <Trouble text={trouble} />
    </form>
  );
}
