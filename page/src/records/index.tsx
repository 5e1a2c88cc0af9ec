// The places of the records, by address.
import { AnchorForm } from './anchor';
import { Decks } from './decks';
import { Deck } from './deck';
import { DeckForm } from './deck_form';
import { PlayForm } from './play';
import type { Route } from './route';
import { Tapes } from './tapes';
import { TapeForm } from './tape_form';
import { TrustPlace } from './trust';

export function Records({ route }: { route: Route }) {
  const [place, name, what] = route;
  const key = route.join('/');
  if (place === 'decks' && name === undefined) return <Decks />;
  if (place === 'decks' && what === 'edit') return <DeckForm key={key} name={name} />;
  if (place === 'decks' && what === 'anchor') return <AnchorForm key={key} deck={name ?? ''} />;
  if (place === 'decks') return <Deck key={key} name={name ?? ''} />;
  if (place === 'new-deck') return <DeckForm key={key} />;
  if (place === 'tapes' && name === undefined) return <Tapes />;
  if (place === 'tapes') return <TapeForm key={key} name={name} />;
  if (place === 'new-tape') return <TapeForm key={key} />;
  if (place === 'anchor') return <AnchorForm key={key} deck="" />;
  if (place === 'play') return <PlayForm key={key} played={name ?? ''} />;
  return <TrustPlace />;
}
