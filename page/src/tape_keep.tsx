import { useState } from 'preact/hooks';
import { useLoaded } from './records/load';
import { Pick, Trouble, useSending } from './records/parts';
import { hrefOf } from './records/route';
import type { Decks } from './records/types';
import type { TapeLive } from './tape_types';

// Puts what came of the tape into the records of a deck, once.
export function KeepReading({ tape }: { tape: TapeLive }) {
  const decks = useLoaded<Decks>('/api/decks');
  const [deck, setDeck] = useState(tape.deck ?? '');
  const [mine, setMine] = useState<TapeLive['kept']>(null);
  const { busy, trouble, send } = useSending((answer) => setMine(answer as TapeLive['kept']));
  const kept = mine ?? tape.kept;
  if (kept) {
    return <p role="status" class="kept">Kept as reading {kept.id} of{' '}
      <a href={hrefOf('decks', kept.deck)}>{kept.deck}</a>.</p>;
  }
  const names = decks.data?.decks.map((one) => one.name) ?? [];
  if (decks.data && names.length === 0) {
    return <p class="soft">To keep this reading, <a href={hrefOf('new-deck')}>add the deck</a> first;
      it waits here.</p>;
  }
  return (
    <form class="keep" onSubmit={(e) => {
      e.preventDefault();
      void send('/api/tape/keep', () => ({ deck }));
    }}>
      <h3>Keep this reading</h3>
      {tape.tape && <p class="soft">It was read from {tape.tape}, and is kept so.</p>}
      <div class="fields">
        <Pick name="Deck" value={deck} onInput={setDeck}>
          <option value="">choose…</option>
          {names.map((name) => <option key={name} value={name}>{name}</option>)}
        </Pick>
      </div>
      <button type="submit" disabled={busy || deck === ''}>Keep it in the deck’s history</button>
      <Trouble text={trouble} />
    </form>
  );
}
