// Whom the coach works for: the deck on the bench, and the tape that plays, out of the records.
import { hrefOf } from './route';
import { Pick } from './parts';
import { useLoaded } from './load';
import { figure, told } from './telling';
import type { Decks, Trust } from './types';

export interface Visit {
  deck: string;
  tape: string;
  tapeError: string;
  tapeU: string;
}

interface Props {
  form: Visit;
  set: (change: Partial<Visit>) => void;
}

export function WhichDeck({ form, set }: Props) {
  const decks = useLoaded<Decks>('/api/decks');
  if (!decks.data) return null;
  return (
    <section class="sheet">
      <h2>Which deck is it?</h2>
      {decks.data.decks.length === 0
        ? <p class="soft">There are no decks in the records yet. <a href={hrefOf('new-deck')}>Add
            it</a>, and what is done here can be kept for it.</p>
        : (
          <Pick name="Deck on the bench" value={form.deck} onInput={(deck) => set({ deck })}
            help="What was found and left can be kept for it afterwards.">
            <option value="">not in the records</option>
            {decks.data.decks.map((deck) => (
              <option key={deck.id} value={deck.name}>{deck.name}</option>
            ))}
          </Pick>
        )}
    </section>
  );
}

const asText = (value: number | null) => (value === null ? '' : String(Number(value.toPrecision(4))));

// A tape from the records fills in its certificate; what is then changed by hand is said to be.
export function WhichTape({ form, set }: Props) {
  const trust = useLoaded<Trust>('/api/trust');
  const tapes = trust.data?.tapes ?? [];
  const chosen = tapes.find((tape) => tape.name === form.tape);
  if (tapes.length === 0) return null;
  const choose = (name: string) => {
    const tape = tapes.find((one) => one.name === name);
    set({ tape: name, tapeError: asText(tape?.error_percent ?? null),
      tapeU: asText(tape?.u95_percent ?? null) });
  };
  const asKept = chosen && form.tapeError === asText(chosen.error_percent)
    && form.tapeU === asText(chosen.u95_percent);
  return (
    <>
      <Pick name="Tape" value={form.tape} onInput={choose}>
        <option value="">not in the records</option>
        {tapes.map((tape) => <option key={tape.id} value={tape.name}>{tape.name}</option>)}
      </Pick>
      {chosen && (
        <p class="note">{chosen.tied
          ? <>{chosen.name}: {figure(chosen)}, {told(chosen.path ?? 'as stated')}.{' '}
              {asKept ? 'That is taken off every reading.'
                : 'The figures below were changed by hand; they are taken off instead.'}</>
          : <>{chosen.name} is not tied to true speed: nothing can be taken off.{' '}
              {told(chosen.path ?? '')}</>}</p>
      )}
    </>
  );
}
