import { useEffect, useRef, useState } from 'preact/hooks';
import { follow, get, post } from './bench';
import { Coach } from './coach';
import { Course } from './course';
import { recordOf } from './documents';
import { Phone } from './phone';
import { quantityOf } from './quantity';
import { Records } from './records';
import { Nav, placeOf, titleOf } from './records/nav';
import { useRoute } from './records/route';
import { Setup } from './setup';
import { TestTape } from './tape';
import type { TapeLive } from './tape_types';
import type { Facts, Phase, Snapshot } from './types';
import { signed, sideInWords, sideOf, sourceInWords } from './words';

const OLD_MS = 1500; // a snapshot that came longer ago says nothing about now

export function App() {
  const [facts, setFacts] = useState<Facts | null>(null);
  const [snapshot, setSnapshot] = useState<Snapshot | null>(null);
  const [tape, setTape] = useState<TapeLive | null>(null);
  const [connected, setConnected] = useState(false);
  const [everConnected, setEverConnected] = useState(false);
  const [lost, setLost] = useState(0);
  const [old, setOld] = useState(false);
  const course = useRef(new Course());
  const session = useRef(0);
  const cameAt = useRef(0);
  const route = useRoute();
  const atCoach = placeOf(route) === '';

  // What was before this page looked, or while it could not.
  const refill = () => {
    const asked = session.current;
    if (asked === 0) return;
    get<Record<string, unknown>>('/api/record').then((record) => {
      if (asked === session.current) course.current.fill(recordOf(record).trace);
    }, () => undefined);
  };

  useEffect(() => follow({
    facts: (now) => {
      if (now.session !== session.current) {
        session.current = now.session;
        course.current.clear();
        setSnapshot(null);
        setLost(0);
        refill();
      }
      setFacts(now);
    },
    snapshot: (now) => {
      cameAt.current = performance.now();
      course.current.add(now);
      setSnapshot(now);
      setOld(false);
    },
    tape: setTape,
    lost: (events) => setLost((before) => before + events),
    connected: (yes) => {
      setConnected(yes);
      if (yes) {
        setEverConnected(true);
        refill();
      }
    },
  }), []);

  useEffect(() => {
    const timer = setInterval(() => setOld(performance.now() - cameAt.current > OLD_MS), 500);
    return () => clearInterval(timer);
  }, []);

  const coaching = facts !== null && facts.session > 0;
  useTitle(atCoach && coaching ? snapshot : null, titleOf(route));

  return (
    <>
      <Header facts={facts} />
      <Nav route={route} listening={facts !== null && running(facts.phase)} />
      {!connected && <Unconnected before={everConnected} />}
      <main>
        {placeOf(route) === 'test-tape' ? <TestTape tape={tape} facts={facts} />
          : !atCoach ? <Records route={route} /> : facts === null ? null : coaching
          ? <Coach key={facts.session} facts={facts} snapshot={snapshot} course={course.current}
              known={connected && !(old && facts.phase === 'running')} lost={lost} />
          : <Setup settings={facts.settings} />}
      </main>
      {facts && <Phone />}
      <footer><p>Evenspool {facts?.version}</p></footer>
    </>
  );
}

function Header({ facts }: { facts: Facts | null }) {
  const [trouble, setTrouble] = useState('');
  const live = facts?.live;
  const stop = () => post('/api/stop').then(() => setTrouble(''), (e: Error) =>
    setTrouble(e.message));
  return (
    <header class="top">
      <h1><img src="/mark.svg" alt="" width="28" height="28" /> Evenspool</h1>
      {live && facts && <p class="source">{[sourceInWords(live.source), facts.settings.deck,
        facts.settings.tape && `tape ${facts.settings.tape}`].filter(Boolean).join(' · ')}</p>}
      {live && running(facts.phase)
        && <button type="button" class="quiet" onClick={stop}>Stop listening</button>}
      {trouble && <p role="alert" class="trouble">{trouble}</p>}
    </header>
  );
}

function running(phase: Phase): boolean {
  return phase === 'running' || phase === 'waiting';
}

function Unconnected({ before }: { before: boolean }) {
  return (
    <p class="banner" role="alert">
      {before
        ? 'The bench does not answer. Nothing shown here is of now; trying again…'
        : 'Looking for the bench…'}
    </p>
  );
}

function useTitle(snapshot: Snapshot | null, otherwise: string) {
  let title = otherwise;
  if (snapshot && snapshot.error !== null) {
    const quantity = quantityOf(snapshot);
    const { digits, unit } = quantity;
    const side = sideOf(snapshot.error, snapshot.target, digits);
    title = `${signed(snapshot.error, digits)} ${unit}${side === 'even' ? ''
      : ` ${sideInWords(side, quantity)}`} · Evenspool`;
  }
  useEffect(() => {
    document.title = title;
  }, [title]);
}
