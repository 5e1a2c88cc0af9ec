import { useLoaded } from './load';
import { Title, Waiting } from './parts';
import { hrefOf } from './route';
import { figure, told } from './telling';
import type { Trust } from './types';

// Every tape with its certificate: what is taken off a reading made with it, and whence.
export function Tapes() {
  const trust = useLoaded<Trust>('/api/trust');
  const tapes = trust.data?.tapes;
  return (
    <div class="records">
      <div class="title-row">
        <Title>Tapes</Title>
        <a class="button" href={hrefOf('new-tape')}>Add a tape</a>
      </div>
      {!tapes && <Waiting of={trust} what="Looking into the records" />}
      {tapes?.length === 0 && (
        <section class="sheet"><p>There are no tapes here yet. A tape that you recorded is as true as
          the deck it was recorded on: enter it with its deck, and it gets a certificate that the
          coach takes off.</p></section>
      )}
      {tapes && tapes.length > 0 && (
        <ul class="cards">
          {tapes.map((tape) => (
            <li class="sheet card" key={tape.id}>
              <h3><a href={hrefOf('tapes', tape.name)}>{tape.name}</a></h3>
              <p class="known-figure"><strong>{figure(tape)}</strong></p>
              <p class="soft">{tape.path ? told(tape.path) : 'nobody has said what its error is'}</p>
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
