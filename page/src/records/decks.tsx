import { useLoaded } from './load';
import { BigFigure, SpeedBar, Title, Waiting } from './parts';
import { hrefOf } from './route';
import { adjusted, day, known, otherThanSpeed, predicted, shortly, times } from './telling';
import type { Decks as DecksDocument, Jobs, Known, Method, Next, Trust } from './types';

// Every deck: how fast, how sure, since when, and what to do next.
export function Decks() {
  const decks = useLoaded<DecksDocument>('/api/decks');
  const jobs = useLoaded<Jobs>('/api/jobs');
  const trust = useLoaded<Trust>('/api/trust');
  const forms = useLoaded<{ forms: Method[] }>('/api/forms');
  const list = decks.data?.decks;
  return (
    <div class="records">
      <div class="title-row">
        <Title>Decks</Title>
        <a class="button" href={hrefOf('new-deck')}>Add a deck</a>
      </div>
      {!list && <Waiting of={decks} what="Looking into the records" />}
      {list?.length === 0 && <Nothing />}
      {list && list.length > 0 && (
        <ul class="cards">
          {list.map((deck) => (
            <DeckCard key={deck.id} deck={deck}
              job={jobs.data?.jobs.filter((job) => job.deck_name === deck.name).at(-1)}
              next={trust.data?.next.find((next) => next.deck === deck.name)}
              methods={forms.data?.forms ?? null} />
          ))}
        </ul>
      )}
    </div>
  );
}

function Nothing() {
  return (
    <section class="sheet">
      <p>There are no decks here yet. Add the ones on your bench: what the coach measures can then
        be kept for them, and tapes that they record get a certificate.</p>
    </section>
  );
}

interface CardProps {
  deck: Known;
  job: Jobs['jobs'][number] | undefined;
  next: Next | undefined;
  methods: Method[] | null;
}

function DeckCard({ deck, job, next, methods }: CardProps) {
  return (
    <li class="sheet card">
      <h3><a href={hrefOf('decks', deck.name)}>{deck.name}</a></h3>
      <p class="soft">{deck.class}</p>
      <BigFigure of={deck} />
      <SpeedBar of={deck} />
      <dl class="card-facts">
        <dt>Known by</dt>
        <dd>{deck.tied ? known(deck).replace(/^tied to /, '') : known(deck)}</dd>
        <dt>Last job</dt>
        <dd>{job ? lastJob(job) : 'none yet'}</dd>
        <dt>Next</dt>
        <dd>{next ? <>{shortly(next, methods)}; {predicted(next)}</> : 'nothing that would help much'}
        </dd>
      </dl>
    </li>
  );
}

function lastJob(job: Jobs['jobs'][number]): string {
  const parts = [job.found && `found ${adjusted(job.adjust, job.found)}`,
    job.nudge_count > 0 && times(job.nudge_count, 'nudge'),
    job.left && `left ${adjusted(job.adjust, job.left)}`];
  return `${day(job.closed_at ?? job.opened_at)}${otherThanSpeed(job.adjust)}: ${parts.filter(Boolean).join(', ')
    || 'nothing was read'}`;
}
