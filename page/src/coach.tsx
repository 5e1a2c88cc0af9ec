import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { AtHand, Cautions } from './cautions';
import type { Course } from './course';
import { Ear } from './ear';
import { Figure, Strip } from './figure';
import { Knob } from './knob';
import { Nudges } from './nudges';
import { PairSheet } from './pair';
import { quantityOf } from './quantity';
import { Scale } from './scale';
import { SessionFacts } from './session';
import { Summary } from './summary';
import { Trace } from './trace';
import type { Facts, Settings, Snapshot } from './types';
import { signed, typeset, uncertainty } from './words';

interface Props {
  facts: Facts;
  snapshot: Snapshot | null;
  course: Course;
  known: boolean; // what the snapshot says is of now
  lost: number;   // events that this page was too slow for
}

export function Coach({ facts, snapshot, course, known, lost }: Props) {
  const [careful, accept] = useCare(facts.session);
  const now = known && facts.phase === 'running' ? snapshot : null;
  const hero = useRef<HTMLElement>(null);
  const heroSeen = useSeen(hero);
  const live = facts.live;
  const { adjust } = facts.settings;
  const quantity = quantityOf(facts.settings);
  const over = facts.phase === 'ended' || facts.phase === 'failed';
  const rehearsing = live?.trimmer_turns !== null && live?.trimmer_turns !== undefined;
  return (
    <div class="coach">
      {over && <Summary facts={facts} />}
      {!over && <section class={`sheet hero ${now?.state ?? 'unknown'}`} ref={hero}
        aria-label={quantity.hero}>
        <Figure snapshot={now} instead={instead(facts, known)} />
        <Scale snapshot={now} settings={facts.settings} />
        <p class="given">{given(now, facts.settings)}</p>
        <Advice text={advice(facts, now, careful)} />
        {now?.note && <p class="note">{typeset(now.note)}</p>}
        {careful && <AtHand rehearsing={rehearsing} adjust={adjust} />}
      </section>}
      {!over && !heroSeen && <Strip snapshot={now} instead={instead(facts, known)}
        advice={advice(facts, now, careful)} />}

      {!careful && !over &&
        <Cautions rehearsing={rehearsing} adjust={adjust} onAccept={accept} />}
      {rehearsing && careful && facts.phase === 'running' &&
        <Knob turns={live?.trimmer_turns ?? 0} screw={quantity.screw} />}
      {!over && adjust !== 'speed' && <PairSheet snapshot={now} machine={facts.settings.class} />}

      <section class="sheet course" aria-labelledby="course-title">
        <h2 id="course-title">Last two minutes</h2>
        <Trace course={course} snapshot={snapshot} />
      </section>
      <div class="beside">
        <Nudges snapshot={snapshot} />
        {live && !over && <Ear live={live} adjust={adjust} />}
        <SessionFacts facts={facts} snapshot={now} lost={lost} />
      </div>
    </div>
  );
}

// The cautions hold for one session: asked again when the next one begins, not after a reload.
function useCare(session: number): [boolean, () => void] {
  const key = 'evenspool-cautions-read';
  const [read, setRead] = useState(() => sessionStorage.getItem(key) === String(session));
  return [read, () => {
    sessionStorage.setItem(key, String(session));
    setRead(true);
  }];
}

// Is enough of it on the screen to be read?
function useSeen(what: { current: HTMLElement | null }): boolean {
  const [seen, setSeen] = useState(true);
  useEffect(() => {
    if (!what.current) return undefined;
    const watch = new IntersectionObserver(([entry]) => setSeen((entry?.intersectionRatio ?? 0) > 0.4),
      { threshold: [0.4] });
    watch.observe(what.current);
    return () => watch.disconnect();
  }, [what]);
  return seen;
}

// Where there is no figure: why not.
function instead(facts: Facts, known: boolean): string {
  if (!known) return 'No news';
  if (facts.phase === 'waiting') return 'Input is gone';
  return 'Listening';
}

function advice(facts: Facts, now: Snapshot | null, careful: boolean): string {
  if (facts.phase !== 'running' && facts.live?.sentence) return facts.live.sentence;
  if (!now) return '';
  const toTheHand = now.state === 'reading' || now.state === 'turning' || now.state === 'settling';
  if (toTheHand && !careful) return 'Before the first turn: read the cautions below.';
  return typeset(now.advice);
}

function given(now: Snapshot | null, settings: Settings): ComponentChildren {
  if (settings.adjust !== 'speed') return aimed(now, settings);
  const parts: string[] = [];
  const tape = now ? now.tape_error_percent : settings.tape_error_percent;
  if (tape !== null) {
    const u = settings.tape_u95_percent;
    parts.push(`the tape’s own ${signed(tape)} %${u === null ? '' : ` ± ${uncertainty(u)} %`}`
      + ' is taken off');
  }
  if (settings.clock_ppm !== null)
    parts.push(`the sound card’s clock (${signed(settings.clock_ppm, 0)} ppm) is taken off`);
  if (parts.length === 0) return 'The tape is taken as true: no certificate was given.';
  const text = parts.join('; ');
  return `${text[0]?.toUpperCase()}${text.slice(1)}.`;
}

function aimed(now: Snapshot | null, settings: Settings): string {
  const reference = now?.pair?.reference_dbfs ?? settings.reference_dbfs;
  if (settings.adjust === 'azimuth')
    return 'How much later the right channel is heard than the left; + is later.';
  if (settings.adjust === 'balance')
    return 'How much louder the right channel is than the left; + is louder.';
  return reference === null ? 'Read against what is heard first.'
    : `Read against ${signed(reference, 1)} dBFS.`;
}

// Read out only once it has stood for a moment: the coach may still be making up its mind.
function Advice({ text }: { text: string }) {
  const [said, setSaid] = useState('');
  const latest = useRef(text);
  latest.current = text;
  useEffect(() => {
    const timer = setTimeout(() => setSaid(latest.current), 600);
    return () => clearTimeout(timer);
  }, [text]);
  return (
    <>
      <p class="advice">{text || '\u00a0'}</p>
      <p class="unseen" aria-live="polite" data-testid="said">{said}</p>
    </>
  );
}
