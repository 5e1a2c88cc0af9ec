import { useState } from 'preact/hooks';
import { Epochs } from './epochs';
import { Timeline } from './timeline';
import { useLoaded } from './load';
import { BigFigure, Entry, numberOf, Removing, SpeedBar, Title, Trouble, useSending, Waiting } from './parts';
import { goTo, hrefOf } from './route';
import { day, figure, predicted, sentence, told, today } from './telling';
import type { DeckRecord, Following, History, Trust } from './types';

// One deck with all that is kept of it.
export function Deck({ name }: { name: string }) {
  const history = useLoaded<History>(`/api/deck?name=${encodeURIComponent(name)}`);
  const trust = useLoaded<Trust>('/api/trust');
  const following = useLoaded<Following>(`/api/next?deck=${encodeURIComponent(name)}`);
  const again = () => [history, trust, following].forEach((part) => part.reload());
  const told_ = history.data;
  return (
    <div class="records">
      <p class="back"><a href={hrefOf('decks')}>All decks</a></p>
      <Title>{name}</Title>
      {!told_ && <Waiting of={history} what="Looking into the records" />}
      {told_ && (
        <>
          <section class="sheet" aria-label="How far it can be believed">
            {told_.trust && (
              <>
                <BigFigure of={told_.trust} />
                <SpeedBar of={told_.trust} />
                <p>{sentence(told_.trust)}</p>
              </>
            )}
            {trust.data?.consistent === false && (
              <p class="note">Some measurements contradict each other; until that is settled the
                figure is not to be relied on. <a href={hrefOf('trust')}>See which</a>.</p>
            )}
            <div class="again">
              <a class="button" href={hrefOf('decks', name, 'anchor')}>Tie it to true speed</a>
              <a class="button quiet" href={hrefOf('play', name)}>Enter a play</a>
              <a class="button quiet" href={hrefOf('decks', name, 'edit')}>Edit</a>
            </div>
          </section>
          {following.data && <WhatNext following={following.data} />}
          <section class="sheet" aria-labelledby="epochs-title">
            <h3 id="epochs-title">From adjustment to adjustment</h3>
            <Epochs epochs={told_.epochs}
              known={(trust.data?.decks ?? []).filter((deck) => deck.deck_id === told_.deck.id)} />
          </section>
          <section class="sheet" aria-labelledby="history-title">
            <h3 id="history-title">History</h3>
            <Timeline history={told_} suspects={trust.data?.suspects_of_blunder ?? []}
              onChange={again} />
          </section>
          <Recorded name={name} trust={trust.data} />
          <Facts deck={told_.deck} />
          <Adjusted name={name} onDone={again} />
          <Drift key={`${told_.epochs.at(-1)?.id} ${told_.epochs.at(-1)?.walk_percent}`} name={name}
            walk={told_.epochs.at(-1)?.walk_percent ?? null} onDone={again} />
          <Leaving name={name} history={told_} />
        </>
      )}
    </div>
  );
}

function WhatNext({ following }: { following: Following }) {
  const shares = following.shares.filter((part) => part.share_percent >= 1)
    .sort((a, b) => b.share_percent - a.share_percent);
  const drift = following.drift_share_percent ?? 0;
  return (
    <section class="sheet" aria-labelledby="next-title">
      <h3 id="next-title">What to do next</h3>
      {following.next.length === 0 && <p>Nothing that can be done at home would help much.</p>}
      <ol class="next">
        {following.next.slice(0, 4).map((next) => (
          <li key={next.measurement}>{told(next.measurement)} <strong>It is {predicted(next)}.</strong></li>
        ))}
      </ol>
      {(shares.length > 0 || drift >= 1) && (
        <details>
          <summary>What its uncertainty is made of</summary>
          <ul class="shares">
            {drift >= 1 && <li><Share percent={drift} /> what it may have drifted since</li>}
            {shares.map((part) => (
              <li key={`${part.kind}-${part.id}`}><Share percent={part.share_percent} />{' '}
                {part.kind === 'anchor' ? part.method_name
                  : `play ${part.id}, ${part.recorded_on} to ${part.played_on}`}</li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

function Share({ percent }: { percent: number }) {
  return (
    <>
      <svg class="share" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect width={Math.max(percent, 1)} height="10" />
      </svg>
      {' '}{Math.round(percent)}&nbsp;%
    </>
  );
}

function Recorded({ name, trust }: { name: string; trust: Trust | null }) {
  const tapes = (trust?.tapes ?? []).filter((tape) => tape.recorded_on === name);
  if (tapes.length === 0) return null;
  return (
    <section class="sheet" aria-labelledby="recorded-title">
      <h3 id="recorded-title">Tapes recorded on it</h3>
      <ul class="plain">
        {tapes.map((tape) => (
          <li key={tape.id}><a href={hrefOf('tapes', tape.name)}>{tape.name}</a>: {figure(tape)}
            {tape.path && <span class="soft"> ({told(tape.path)})</span>}</li>
        ))}
      </ul>
    </section>
  );
}

function millimetres(metres: number | null): string | null {
  return metres === null ? null : `${Number((metres * 1000).toPrecision(6))} mm`;
}

function Facts({ deck }: { deck: DeckRecord }) {
  const facts: [string, string | null][] = [
    ['Class', deck.transport],
    ['Speed', deck.speed_m_s === null ? null
      : `${Number((deck.speed_m_s * 100).toPrecision(6))} cm/s`],
    ['Capstan', millimetres(deck.capstan_m)],
    ['Pinch roller', millimetres(deck.pinch_roller_m)],
    ['Flywheel', millimetres(deck.flywheel_m)],
    ['Motor pulley', millimetres(deck.motor_pulley_m)],
    ['Belt', millimetres(deck.belt_m)],
    ['Idler', millimetres(deck.idler_m)],
    ['Hub radius', millimetres(deck.hub_radius_m)],
    ['Picture', deck.photo?.split('/').at(-1) ?? null],
  ];
  return (
    <section class="sheet" aria-labelledby="machine-title">
      <h3 id="machine-title">The machine</h3>
      <dl>
        {facts.filter(([, value]) => value !== null).map(([what, value]) => (
          <><dt>{what}</dt><dd>{value}</dd></>
        ))}
      </dl>
      {deck.notes && <p class="prose">{deck.notes}</p>}
      {deck.photo && <Photo deck={deck} />}
    </section>
  );
}

function Photo({ deck }: { deck: DeckRecord }) {
  const [gone, setGone] = useState(false);
  if (gone) return <p class="note">Its picture can’t be shown: there is none at {deck.photo}.</p>;
  return <img class="photo" src={`/api/photo?deck=${encodeURIComponent(deck.name)}`}
    alt={`Picture of ${deck.name}`} onError={() => setGone(true)} />;
}

const USUAL_DRIFT = 0.1; // percent within a year, docs/guide/records.md

function Drift({ name, walk, onDone }: { name: string; walk: number | null; onDone: () => void }) {
  const [percent, setPercent] = useState(walk === null ? '' : String(walk));
  const { busy, trouble, send } = useSending(onDone);
  return (
    <details class="sheet">
      <summary>How far it wanders by itself</summary>
      <p>A deck drifts with its belts and bearings, so what is known of it fades: usually by{' '}
        {USUAL_DRIFT} % within a year, growing with the square root of time (working practice). Say
        otherwise if you know this deck better; 0 is a deck that stands still.</p>
      <form onSubmit={(e) => {
        e.preventDefault();
        send('/api/decks/drift', () => ({ deck: name, walk_percent: numberOf(percent, 'Drift') }));
      }}>
        <div class="with-button">
          <Entry name="Within a year" unit="%" value={percent} onInput={setPercent}
            hint={String(USUAL_DRIFT)} />
          <button type="submit" disabled={busy}>Keep</button>
        </div>
        <Trouble text={trouble} />
      </form>
    </details>
  );
}

function Adjusted({ name, onDone }: { name: string; onDone: () => void }) {
  const [at, setAt] = useState(today());
  const [why, setWhy] = useState('');
  const [open, setOpen] = useState(false);
  const { busy, trouble, send } = useSending(() => {
    setOpen(false);
    setWhy('');
    onDone();
  });
  return (
    <details class="sheet" open={open} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>It was adjusted or mended without the coach</summary>
      <p>Whatever changes the speed (a turn of the trimmer, a belt, a motor) makes it a new deck as
        far as trust goes: what was known of its speed holds no longer.</p>
      <form onSubmit={(e) => {
        e.preventDefault();
        send('/api/decks/adjusted', () => ({ deck: name, when: at === today() ? null : at, why }));
      }}>
        <div class="fields">
          <Entry name="When" type="date" value={at} onInput={setAt} />
          <Entry name="What was done" value={why} onInput={setWhy} wide />
        </div>
        <div class="again"><button type="submit" disabled={busy}>It was adjusted</button></div>
        <Trouble text={trouble} />
      </form>
    </details>
  );
}

function Leaving({ name, history }: { name: string; history: History }) {
  const kept = history.jobs.length + history.readings.length + history.plays.length
    + history.anchors.length;
  const since = history.epochs[0]?.began;
  return (
    <section class="sheet" aria-label="Removing the deck">
      <Removing what="Remove this deck" path="/api/decks/remove"
        form={{ deck: name, with_history: kept > 0 }} onDone={() => goTo('decks')}
        warning={kept === 0 ? `${name} goes from the records.`
          : `${name} goes from the records with its whole history${since ? ` since ${day(since)}` : ''}: `
            + `${history.jobs.length} jobs, ${history.readings.length} readings, `
            + `${history.plays.length} plays and ${history.anchors.length} anchors. `
            + 'This can’t be undone.'} />
    </section>
  );
}
