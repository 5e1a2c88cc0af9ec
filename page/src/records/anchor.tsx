import { useEffect, useRef, useState } from 'preact/hooks';
import { post } from '../bench';
import { signed, typeset, uncertainty } from '../words';
import { Budget } from './budget';
import { useLoaded } from './load';
import { Entry, numberOf, Pick, Title, Trouble, useSending, Waiting } from './parts';
import { goTo, hrefOf } from './route';
import { side, today } from './telling';
import type { Decks, Method, Outcome, Question } from './types';

const CALM_MS = 350; // after the last stroke, before it is reckoned anew

type Answers = Record<string, string>;

// Ties a deck to true speed: a method, its questions, and what the answers come to.
export function AnchorForm({ deck }: { deck: string }) {
  const forms = useLoaded<{ forms: Method[] }>('/api/forms');
  const decks = useLoaded<Decks>('/api/decks');
  const [chosen, choose] = useState('tape-length');
  const methods = forms.data?.forms;
  const method = methods?.find((one) => one.method === chosen);
  return (
    <div class="records narrow">
      <p class="back">{deck ? <a href={hrefOf('decks', deck)}>{deck}</a>
        : <a href={hrefOf('trust')}>Trust</a>}</p>
      <Title>{deck ? `Tie ${deck} to true speed` : 'Tie a deck to true speed'}</Title>
      {!methods && <Waiting of={forms} what="Fetching the methods" />}
      {methods && (
        <section class="sheet">
          <fieldset class="methods">
            <legend>How do you know its speed?</legend>
            {methods.map((one) => (
              <label key={one.method}>
                <input type="radio" name="method" checked={one.method === chosen}
                  onChange={() => choose(one.method)} />
                <span>{one.name} <span class="soft">usually
                  {` ±\u00a0${uncertainty(2 * one.usual_u_percent)}\u00a0%`}</span></span>
              </label>
            ))}
          </fieldset>
        </section>
      )}
      {method && <Answering key={chosen} method={method} deck={deck}
        decks={decks.data?.decks.map((one) => one.name) ?? []} />}
    </div>
  );
}

// What is answered; what is open is left to the method's own default.
function requestOf(method: Method, answers: Answers): Record<string, unknown> {
  const request: Record<string, unknown> = { method: method.method };
  for (const question of method.questions) {
    const value = numberOf(answers[question.key] ?? '', question.text);
    if (value !== null) request[question.key] = value;
  }
  return request;
}

function Answering({ method, deck, decks }: { method: Method; deck: string; decks: string[] }) {
  const [answers, setAnswers] = useState<Answers>({});
  const { outcome, trouble } = useReckoned(method, answers);
  const needed = method.questions.filter((question) => question.needed);
  const others = method.questions.filter((question) => !question.needed);
  const ask = (question: Question) => (
    <Asked key={question.key} question={question} value={answers[question.key] ?? ''}
      onInput={(value) => setAnswers((before) => ({ ...before, [question.key]: value }))} />
  );
  return (
    <>
      <section class="sheet">
        <h3 class="first">{capital(method.name)}</h3>
        <p>{method.text}</p>
        {method.method === 'capstan' && <p class="note">With the plug pulled: measure the diameter
          before the deck runs open. Mains voltage is near; the rules where you live come first.</p>}
        {needed.map(ask)}
        {others.length > 0 && (
          <details>
            <summary>Finer questions, all with a usual answer</summary>
            {others.map(ask)}
          </details>
        )}
      </section>
      <section class="sheet" aria-labelledby="comes-title">
        <h3 id="comes-title" class="first">What it comes to</h3>
        <p class="formula">speed error = {mathematical(method.formula)}</p>
        <div aria-live="polite">
          {trouble && <p class="soft">{trouble}</p>}
          {outcome && <Result outcome={outcome} />}
        </div>
        {outcome && <Budget lines={outcome.budget} />}
      </section>
      {outcome && <Keep method={method} answers={answers} deck={deck} decks={decks} />}
    </>
  );
}

function useReckoned(method: Method, answers: Answers) {
  const [outcome, setOutcome] = useState<Outcome | null>(null);
  const [trouble, setTrouble] = useState('');
  const asked = useRef(0);
  useEffect(() => {
    const mine = ++asked.current;
    const open = method.questions.filter((question) => question.needed
      && (answers[question.key] ?? '').trim() === '');
    if (open.length > 0) {
      setOutcome(null);
      setTrouble(open.length === 1 ? `Still to be answered: ${open[0]?.text}`
        : `Still to be answered: ${open.length} questions above.`);
      return undefined;
    }
    const timer = setTimeout(async () => {
      try {
        const got = await post<Outcome>('/api/anchors/reckon', requestOf(method, answers));
        if (mine !== asked.current) return;
        setOutcome(got);
        setTrouble('');
      } catch (e) {
        if (mine !== asked.current) return;
        setOutcome(null);
        setTrouble((e as Error).message.replace(/ \([a-z0-9_]+\)/g, ''));
      }
    }, CALM_MS);
    return () => clearTimeout(timer);
  }, [method, answers]);
  return { outcome, trouble };
}

function Asked({ question, value, onInput }: { question: Question; value: string;
  onInput: (value: string) => void }) {
  if (question.only_choices) {
    return (
      <label class="field">{question.text}
        <select value={value} onChange={(e) => onInput(e.currentTarget.value)}>
          {question.default === null && <option value="">choose…</option>}
          {question.choices.map((choice) => (
            <option key={choice.value}
              value={choice.value === question.default ? '' : String(choice.value)}>
              {choice.text}</option>
          ))}
        </select>
      </label>
    );
  }
  return (
    <div class="asked">
      <Entry name={question.text} value={value} onInput={onInput} unit={question.unit ?? ' '} wide
        hint={question.default === null ? (question.needed ? 'needed' : 'the usual')
          : String(question.default)}
        help={`from ${question.low} to ${question.high}`} />
      {question.choices.length > 0 && (
        <p class="choices-of">{question.choices.map((choice) => (
          <button key={choice.text} type="button" class="quiet small"
            onClick={() => onInput(String(choice.value))}>{choice.text}</button>
        ))}</p>
      )}
    </div>
  );
}

function Result({ outcome }: { outcome: Outcome }) {
  const { error_percent: error, u95_percent: u, u95_by_shape_percent: shape } = outcome;
  return (
    <>
      <p class="known-figure"><strong>{signed(error)} %</strong>{' '}
        <small>± {uncertainty(u)} %</small>{' '}
        <span class="side-word">{side(outcome)}</span></p>
      <p>In 95 of 100 such measurements the deck’s true speed lies within that range.
        {shape !== null && Math.abs(shape - u) > 0.1 * u
          && ` By the shapes of its parts it would be ± ${uncertainty(shape)} %.`}</p>
      {outcome.caution && <p class="note">{typeset(outcome.caution)}</p>}
      {outcome.heard_percent !== null && (
        <p class="note">If one of your own decks made that recording, it is no anchor but a play
          between the two: <a href={hrefOf('play')}>enter it as a play</a>, heard{' '}
          {signed(outcome.heard_percent, 3)} %
          {outcome.heard_u95_percent !== null && ` ± ${uncertainty(outcome.heard_u95_percent)} %`}.
        </p>
      )}
    </>
  );
}

function Keep({ method, answers, deck, decks }: { method: Method; answers: Answers; deck: string;
  decks: string[] }) {
  const [whose, setWhose] = useState(deck);
  const [at, setAt] = useState(today());
  const [note, setNote] = useState('');
  const { busy, trouble, send } = useSending(() => goTo('decks', whose));
  return (
    <form class="sheet" onSubmit={(e) => {
      e.preventDefault();
      send('/api/anchors/add', () => ({ ...requestOf(method, answers), deck: whose,
        made_at: at === today() ? null : at, note }));
    }}>
      <h3 class="first">Keep it</h3>
      <div class="fields">
        {!deck && (
          <Pick name="Deck" value={whose} onInput={setWhose}>
            <option value="">choose…</option>
            {decks.map((one) => <option key={one} value={one}>{one}</option>)}
          </Pick>
        )}
        <Entry name="Measured on" type="date" value={at} onInput={setAt} />
        <Entry name="Note" value={note} onInput={setNote} wide hint="none" />
      </div>
      <div class="again">
        <button type="submit" disabled={busy || !whose}>Keep as an anchor</button>
      </div>
      <Trouble text={trouble} />
    </form>
  );
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function mathematical(formula: string): string {
  return formula.replaceAll(' * ', ' × ').replaceAll(' - ', ' − ').replace(/\bpi\b/g, 'π');
}
