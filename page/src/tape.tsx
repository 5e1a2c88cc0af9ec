// The test tape, read while it plays: what was heard of it, and what is to be done.
import { useEffect, useState } from 'preact/hooks';
import { get, post } from './bench';
import { AtHand } from './cautions';
import { KeepReading } from './tape_keep';
import { Title, Trouble } from './records/parts';
import { TapeSetup } from './tape_setup';
import type { Section, SectionState, TapeLive, TapeResult, Verdict } from './tape_types';
import type { Facts } from './types';
import { signed, sourceInWords, typeset } from './words';

export function TestTape({ tape, facts }: { tape: TapeLive | null; facts: Facts | null }) {
  const none = tape === null || tape.phase === 'none';
  return (
    <div class="records">
      <Title>Test tape</Title>
      {none ? <TapeSetup facts={facts} /> : <Reading key={tape.session} tape={tape} />}
    </div>
  );
}

// What the reader writes for a terminal, without the options that only it has.
function told(text: string): string {
  return typeset(text.replace(/ \(--[^)]*\)/g, '').replace('+- ', '± '));
}

function over(tape: TapeLive): boolean {
  return tape.phase === 'ended' || tape.phase === 'failed';
}

// Listening is safe; what is turned by it is not, so the cautions come up with what to do.
function Reading({ tape }: { tape: TapeLive }) {
  const cautions = (
    <section class="sheet tape-cautions"><AtHand rehearsing={false} adjust="azimuth" /></section>
  );
  return (
    <>
      <section class="sheet" aria-labelledby="tape-now">
        <h3 id="tape-now" class="first">{sourceInWords(tape.source)}</h3>
        <Now tape={tape} />
        <Around tape={tape} />
        <Buttons tape={tape} />
      </section>
      {over(tape) && <Outcome tape={tape} />}
      {over(tape) && cautions}
      {tape.sections.length > 0 && (
        <section class="sheet" aria-labelledby="tape-sections">
          <h3 id="tape-sections" class="first">Sections</h3>
          <ol class="tape-sections">
            {tape.sections.filter((s) => s.kind !== 'leader' && s.kind !== 'end')
              .map((s) => <SectionRow key={s.name} section={s} measuring={tape.measuring} />)}
          </ol>
        </section>
      )}
      {!over(tape) && cautions}
    </>
  );
}

function clock(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

// In one line where the tape stands; what is read out is the section, not every second.
function Now({ tape }: { tape: TapeLive }) {
  const now = tape.sections.find((section) => section.state === 'now');
  if (over(tape)) return <p class="tape-now">{tape.ending}</p>;
  return (
    <>
      <p class="tape-now" aria-live="polite">
        {tape.side === null ? 'Waiting for the first marker of the tape'
          : now ? `${tape.measuring ? 'Hearing' : 'Next'}: ${now.name}` : 'The end of the side'}
      </p>
      <dl class="tape-facts">
        {tape.programme && (
          <div><dt>Programme</dt><dd>{tape.programme}, side {tape.side}</dd></div>
        )}
        {tape.deck && <div><dt>Deck</dt><dd>{tape.deck}</dd></div>}
        {tape.tape && <div><dt>Tape</dt><dd>{tape.tape}</dd></div>}
        <div><dt>Heard</dt><dd>{clock(tape.time_s ?? 0)}</dd></div>
        {tape.left_s !== null && <div><dt>To go</dt><dd>{clock(tape.left_s)}</dd></div>}
        {tape.error_percent !== null && (
          <div><dt>Speed so far</dt><dd>{signed(tape.error_percent)}{'\u00a0'}%</dd></div>
        )}
      </dl>
    </>
  );
}

function Around({ tape }: { tape: TapeLive }) {
  const strange = tape.strange_id !== null && tape.side === null;
  return (
    <>
      {tape.sentence && <p role="alert" class="trouble">{tape.sentence}</p>}
      {strange && (
        <p role="alert" class="trouble">The markers are those of programme number {tape.strange_id},
          which is not built in: stop, and name the programme’s file.</p>
      )}
      {!over(tape) && tape.level && <p role="alert" class="trouble">{tape.level}</p>}
      {tape.gaps > 0 && (
        <p class="note">The computer lost input {tape.gaps === 1 ? 'once' : `${tape.gaps} times`}; what
          played then is not measured.</p>
      )}
      {tape.recording && (
        <p class={tape.recording_sentence ? 'trouble' : 'note'}>{tape.recording_sentence
          ? `Recording has stopped: ${tape.recording_sentence}`
          : `The raw sound is kept in ${tape.recording}.`}</p>
      )}
    </>
  );
}

function Buttons({ tape }: { tape: TapeLive }) {
  const [trouble, setTrouble] = useState('');
  const send = (path: string) => () => post(path).then(() => setTrouble(''),
    (e: Error) => setTrouble(e.message));
  return (
    <div class="tape-buttons">
      {over(tape)
        ? <button type="button" onClick={send('/api/tape/clear')}>Read another tape</button>
        : <button type="button" class="quiet" onClick={send('/api/tape/stop')}>Stop here</button>}
      <Trouble text={trouble} />
    </div>
  );
}

// --- sections ----------------------------------------------------------------------------

const STATES: Record<SectionState, [mark: string, words: string]> = {
  'to-come': ['·', 'to come'],
  now: ['▸', 'now'],
  heard: ['✓', 'heard'],
  'in-part': ['◐', 'heard in part'],
  missed: ['✕', 'not heard'],
};

function SectionRow({ section, measuring }: { section: Section; measuring: boolean }) {
  const [mark, words] = STATES[section.state];
  const heard = section.state === 'heard' || section.state === 'in-part';
  return (
    <li class={section.state} aria-current={section.state === 'now' ? 'step' : undefined}>
      <span class="mark" aria-hidden="true">{mark}</span>
      <span class="what">{section.name}</span>
      <span class="state">{section.state === 'now' && !measuring ? 'next' : words}
        {heard && !section.marker && ', its marker not'}</span>
      <span class="figures">{section.figures && told(section.figures)}</span>
    </li>
  );
}

// --- what came of it -------------------------------------------------------------------------

const WORDS: Record<Verdict, [mark: string, words: string]> = {
  leave: ['✓', 'leave'],
  adjust: ['↻', 'adjust'],
  'look-first': ['!', 'look first'],
};

function Outcome({ tape }: { tape: TapeLive }) {
  const [result, setResult] = useState<TapeResult | null>(null);
  const [trouble, setTrouble] = useState('');
  useEffect(() => {
    get<TapeResult>('/api/tape/result').then(setResult, (e: Error) => setTrouble(e.message));
  }, [tape.session]);
  return (
    <section class="sheet" aria-labelledby="tape-result">
      <h3 id="tape-result" class="first">What to do</h3>
      {result && <Verdicts result={result} />}
      <Trouble text={trouble} />
      {result && <Mind result={result} />}
      {result && <KeepReading tape={tape} />}
    </section>
  );
}

function Verdicts({ result }: { result: TapeResult }) {
  return (
    <ul class="verdicts">
      {result.verdicts.map(({ what, verdict, text }) => (
        <li key={what} class={verdict}>
          <span class="mark" aria-hidden="true">{WORDS[verdict][0]}</span>
          <span class="what">{what}</span> <strong>{WORDS[verdict][1]}</strong>
          <p>{told(text)}</p>
        </li>
      ))}
    </ul>
  );
}

function Mind({ result }: { result: TapeResult }) {
  const list = [...result.warnings.map(({ text }) => text), result.equalisation_hint ?? '',
    result.tape_share.text ?? ''].filter((text) => text !== '');
  if (list.length === 0) return null;
  return (
    <>
      <h3>Mind</h3>
      <ul class="tape-mind">{list.map((text) => <li key={text}>{told(text)}</li>)}</ul>
    </>
  );
}
