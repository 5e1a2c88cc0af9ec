import type { ComponentChildren } from 'preact';
import { useState } from 'preact/hooks';
import { type Adjust, QUANTITIES } from '../quantity';
import { signed } from '../words';
import { Budget } from './budget';
import { Entry, Removing, Trouble, useSending } from './parts';
import { adjusted, figure, otherThanSpeed, when } from './telling';
import type { Anchor, History, InItsUnit, Play, Reading, Trust } from './types';

interface Props {
  history: History;
  suspects: Trust['suspects_of_blunder'];
  onChange: () => void;
}

interface Event {
  key: string;
  at: string | null;
  rank: number; // of two at the same time: the higher came later
  kind: string;
  what: ComponentChildren;
}

// Everything that happened to the deck, newest first.
export function Timeline({ history, suspects, onChange }: Props) {
  const events = eventsOf(history, suspects, onChange);
  if (events.length === 0) return <p>Nothing has happened to it yet.</p>;
  return (
    <ol class="timeline">
      {events.map((event) => (
        <li key={event.key} class={event.kind}>
          <p class="soft">{event.at ? <time dateTime={event.at}>{when(event.at)}</time>
            : 'day not known'}</p>
          <div>{event.what}</div>
        </li>
      ))}
    </ol>
  );
}

function eventsOf(history: History, suspects: Props['suspects'], onChange: () => void): Event[] {
  const doubted = (kind: string, id: number) => suspects.some((s) => s.kind === kind && s.id === id);
  const events: Event[] = [
    ...history.epochs.filter((epoch) => epoch.number > 1).map((epoch) => ({ key: `e${epoch.id}`,
      at: epoch.began, rank: 1, kind: 'turned',
      what: <p><strong>Adjusted</strong>{epoch.why ? `: ${epoch.why}` : ''}. From here on it is a new
        unknown.</p> })),
    ...history.jobs.map((job) => ({ key: `j${job.id}`, at: job.closed_at ?? job.opened_at, rank: 2,
      kind: 'job', what: <Job job={job} history={history} onChange={onChange} /> })),
    ...history.readings.filter((reading) => reading.job === null).map((reading) => ({
      key: `r${reading.id}`, at: reading.taken_at, rank: 0, kind: 'reading',
      what: <p><strong>Measured</strong>: {read(reading)}. <Exactly reading={reading} /></p> })),
    ...history.plays.map((play) => ({ key: `p${play.id}`, at: play.played_at, rank: 0, kind: 'play',
      what: <Compared play={play} deck={history.deck.name} doubted={doubted('play', play.id)}
        onChange={onChange} /> })),
    ...history.anchors.map((anchor) => ({ key: `a${anchor.id}`, at: anchor.made_at, rank: 0,
      kind: 'anchor', what: <Tied anchor={anchor} doubted={doubted('anchor', anchor.id)}
        onChange={onChange} /> })),
  ];
  return events.sort((a, b) => (b.at ?? '').localeCompare(a.at ?? '') || b.rank - a.rank);
}

function Job({ job, history, onChange }: { job: History['jobs'][number]; history: History;
  onChange: () => void }) {
  const of = (id: number | null) => history.readings.find((reading) => reading.id === id);
  const found = of(job.as_found);
  const left = of(job.as_left);
  const figureOf = (reading: Reading | undefined) => (reading ? adjusted(job.adjust, reading)
    : 'no reading');
  return (
    <>
      <p><strong>On the bench</strong>{otherThanSpeed(job.adjust)}{job.asked ? `: ${job.asked}` : ''}</p>
      <ol class="steps">
        <li><span class="soft">as found</span> {figureOf(found)}</li>
        <li><span class="soft">nudges</span> {nudgesOf(job.adjust, job.nudges)}</li>
        <li><span class="soft">as left</span> {figureOf(left)}</li>
      </ol>
      {job.remarks.map((remark) => <p key={remark.made_at} class="prose">{remark.text}</p>)}
      <Remark deck={history.deck.name} job={job.id} onDone={onChange} />
      {found && <p><Exactly reading={found} /></p>}
    </>
  );
}

const NUDGES_SHOWN = 8;

function nudgesOf(adjust: Adjust, nudges: InItsUnit[]): string {
  if (nudges.length === 0) return 'none';
  const { suffix, unit, digits } = QUANTITIES[adjust];
  const sizes = nudges.slice(0, NUDGES_SHOWN).map((nudge) => nudge[`size_${suffix}`] ?? null)
    .map((size) => (size === null ? '?' : signed(size, digits)));
  return `${nudges.length} (${sizes.join(', ')}${nudges.length > NUDGES_SHOWN ? ', …' : ''} ${unit})`;
}

// What was noticed: one field that grows out of a button.
function Remark({ deck, job, onDone }: { deck: string; job: number; onDone: () => void }) {
  const [text, setText] = useState<string | null>(null);
  const { busy, trouble, send } = useSending(() => {
    setText(null);
    onDone();
  });
  if (text === null) {
    return <button type="button" class="quiet small" aria-label={`Add a remark to job ${job}`}
      onClick={() => setText('')}>Add a remark</button>;
  }
  const keep = (event: SubmitEvent) => {
    event.preventDefault();
    send('/api/jobs/remark', () => ({ deck, job, text }));
  };
  return (
    <form class="asking" onSubmit={keep}>
      <Entry name="What was noticed" value={text} onInput={setText} needed wide />
      <button type="submit" class="small" disabled={busy}>Keep</button>
      <button type="button" class="quiet small" onClick={() => setText(null)}>Leave it</button>
      <Trouble text={trouble} />
    </form>
  );
}

function read(reading: Reading): string {
  const adjust = reading.error_us !== null ? 'azimuth' : reading.error_db !== null ? 'level' : 'speed';
  const parts = [reading[`error_${QUANTITIES[adjust].suffix}`] !== null && adjusted(adjust, reading),
    reading.weighted_quasi_peak_percent !== null
      && `wow and flutter ${reading.weighted_quasi_peak_percent.toFixed(2)} % weighted`,
    reading.capture && `from ${reading.capture.split('/').pop()}`];
  return parts.filter(Boolean).join(', ') || 'a reading without figures';
}

function Exactly({ reading }: { reading: Reading }) {
  return <a href={`/api/reading?id=${reading.id}`}>The result as it was given out</a>;
}

function Doubt({ yes }: { yes: boolean }) {
  return yes ? <p class="doubt"><span aria-hidden="true">⚠ </span>This one disagrees with the
    rest.</p> : null;
}

function Compared({ play, deck, doubted, onChange }: { play: Play; deck: string; doubted: boolean;
  onChange: () => void }) {
  const same = play.recorded_on === play.played_on;
  const other = play.recorded_on_deck === deck ? play.played_on_deck : play.recorded_on_deck;
  return (
    <>
      <p><strong>{same ? 'Played what it recorded itself' : `Compared with ${other}`}</strong>:{' '}
        {play.tape_name ? `${play.tape_name}, ` : ''}recorded on {play.recorded_on_deck}, played
        on {play.played_on_deck}, heard {signed(play.heard_percent)} %
        {play.note ? ` (${play.note})` : ''}.
        {same ? ' That tests drift, not speed: its own error cancels.' : ''}</p>
      <Doubt yes={doubted} />
      <Removing what={`Remove play ${play.id}`} short="Remove" path="/api/plays/remove" form={{ id: play.id }}
        warning="The comparison goes from the records; both decks are then less well known."
        onDone={onChange} />
    </>
  );
}

function Tied({ anchor, doubted, onChange }: { anchor: Anchor; doubted: boolean;
  onChange: () => void }) {
  return (
    <>
      <p><strong>Tied to true speed</strong> by {anchor.method_name}: {figure(anchor)}
        {anchor.note ? ` (${anchor.note})` : ''}</p>
      <Doubt yes={doubted} />
      {anchor.budget.length > 0 && (
        <details>
          <summary>Its budget</summary>
          <Budget lines={anchor.budget} />
        </details>
      )}
      <Removing what={`Remove anchor ${anchor.id}`} short="Remove" path="/api/anchors/remove"
        form={{ id: anchor.id }} onDone={onChange}
        warning="What tied the deck to true speed goes from the records." />
    </>
  );
}
