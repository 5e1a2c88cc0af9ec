import { useState } from 'preact/hooks';
import { signed, uncertainty } from '../words';
import { useLoaded } from './load';
import { Removing, Title, Waiting } from './parts';
import { Picture } from './picture';
import { hrefOf } from './route';
import { day, methodName, predicted, sentence, shortly, times, told } from './telling';
import type { Link, Method, Next, Trust } from './types';

// How far each deck can be believed, why, and what would help most.
export function TrustPlace() {
  const [without, setWithout] = useState(false);
  const trust = useLoaded<Trust>(without ? '/api/trust?robust=remove' : '/api/trust');
  const forms = useLoaded<{ forms: Method[] }>('/api/forms');
  const data = trust.data;
  const methods = forms.data?.forms ?? null;
  const now = data?.decks.filter((deck) => deck.latest) ?? [];
  return (
    <div class="records">
      <div class="title-row">
        <Title>Trust</Title>
        <a class="button" href={hrefOf('anchor')}>Tie a deck to true speed</a>
        <a class="button quiet" href={hrefOf('play')}>Enter a play</a>
      </div>
      {!data && <Waiting of={trust} what="Reckoning" />}
      {data && now.length === 0 && (
        <section class="sheet"><p>There are no decks yet; <a href={hrefOf('new-deck')}>add the
          first</a>. A deck becomes known by an anchor (a timed length of tape, say) or by a tape that
          is recorded on one deck and played on another.</p></section>
      )}
      {data && now.length > 0 && (
        <>
          <Agreement trust={data} without={without} setWithout={setWithout} onChange={trust.reload} />
          <section class="sheet" aria-labelledby="picture-title">
            <h3 class="first" id="picture-title">Who was compared with whom</h3>
            <Picture trust={data} />
          </section>
          <section class="sheet" aria-labelledby="sentences-title">
            <h3 class="first" id="sentences-title">How far each deck can be believed</h3>
            <ul class="sentences">
              {now.map((deck) => (
                <li key={deck.epoch_id}>{sentence(deck, measureNext(deck.name, data.next, methods))}{' '}
                  <a href={hrefOf('decks', deck.name)}>More on {deck.name}</a></li>
              ))}
            </ul>
          </section>
          <section class="sheet" aria-labelledby="do-title">
            <h3 class="first" id="do-title">What to do next</h3>
            <Advice next={data.next} methods={methods} />
          </section>
          <section class="sheet" aria-labelledby="table-title">
            <h3 class="first" id="table-title">Everything that ties them</h3>
            <Links trust={data} onChange={trust.reload} />
          </section>
        </>
      )}
    </div>
  );
}

function measureNext(deck: string, next: Next[], methods: Method[] | null): string {
  const best = next.find((one) => one.deck === deck);
  return best ? `${shortly(best, methods)} (${predicted(best)})` : '';
}

function Agreement({ trust, without, setWithout, onChange }: { trust: Trust; without: boolean;
  setWithout: (yes: boolean) => void; onChange: () => void }) {
  const many = trust.suspects_of_blunder.length;
  return (
    <section class={`sheet ${trust.consistent === false ? 'disagree' : ''}`} aria-label="Agreement">
      {trust.consistent === false && (
        <p><strong><span aria-hidden="true">⚠ </span>Some measurements contradict each other.</strong>{' '}
          Until that is settled, no figure here is to be relied on.</p>
      )}
      {trust.consistent === true && <p>What was measured more than once agrees
        {trust.removed > 0 ? `, with ${times(trust.removed, 'measurement')} left out.` : '.'}</p>}
      {trust.consistent === null && <p>Nothing was measured in two ways yet, so nothing could
        contradict. A second way (another anchor, or a play that closes a ring) would be a check.</p>}
      {many > 0 && (
        <ul class="plain">
          {trust.suspects_of_blunder.map((suspect) => (
            <li key={`${suspect.kind}-${suspect.id}`}>
              <p>{told(suspect.text)}</p>
              <Removing what={`Remove ${suspect.kind} ${suspect.id}`}
                path={`/api/${suspect.kind}s/remove`} form={{ id: suspect.id }} onDone={onChange}
                warning="It goes from the records for good; better to measure anew first." />
            </li>
          ))}
        </ul>
      )}
      {(many > 0 || without) && (
        <label class="check"><input type="checkbox" checked={without}
          onChange={(e) => setWithout(e.currentTarget.checked)} /> Show it without what disagrees
          most</label>
      )}
      {trust.untied_decks > 0 && <p>{times(trust.untied_decks, 'deck')} {trust.untied_decks === 1
        ? 'has' : 'have'} no tie to true speed.</p>}
    </section>
  );
}

function Advice({ next, methods }: { next: Next[]; methods: Method[] | null }) {
  if (next.length === 0) return <p>Nothing that can be done at home would help much.</p>;
  return (
    <ol class="next">
      {next.map((one) => (
        <li key={one.deck + one.measurement}>
          <strong>{one.deck}</strong>: {one.kind === 'play'
            ? told(one.measurement)
            : <>tie it by <a href={hrefOf('decks', one.deck, 'anchor')}>{methodName(methods,
                one.method)}</a>;</>}
          {' '}<span class="soft">{predicted(one)}</span>
        </li>
      ))}
    </ol>
  );
}

const SHOWN_MOST = 300;

const ROLES: Record<Link['role'], string> = { used: '', 'drift-check':
  'same deck: tests drift, not speed', removed: 'left out: disagrees with the rest' };

// "Attic until 4 Mar 2026", where it was adjusted since.
function whom(trust: Trust, name: string | undefined, epoch: number | undefined): string {
  const deck = trust.decks.find((one) => one.name === name && one.epoch === epoch);
  return deck && !deck.latest ? `${name} until ${day(deck.day)}` : name ?? '';
}

function Links({ trust, onChange }: { trust: Trust; onChange: () => void }) {
  const { links } = trust;
  const [all, showAll] = useState(links.length <= SHOWN_MOST);
  if (links.length === 0) return <p>Nothing yet.</p>;
  return (
    <div class="scrolls" tabIndex={0} role="group" aria-labelledby="table-title">
      <table class="links stacks">
        <thead>
          <tr><th scope="col">When</th><th scope="col">What</th><th scope="col">Says</th>
            <th scope="col">Against the rest</th><th scope="col">Take it out</th></tr>
        </thead>
        <tbody>
          {(all ? links : links.slice(0, SHOWN_MOST)).map((link) => (
            <tr key={`${link.kind}-${link.id}`}>
              <td class="figures">{link.day ? day(link.day) : 'not known'}</td>
              <th scope="row">{link.kind === 'anchor'
                ? `${whom(trust, link.deck, link.epoch)}: ${link.method_name}`
                : `${whom(trust, link.recorded_on, link.recorded_on_epoch)} to ${whom(trust,
                  link.played_on, link.played_on_epoch)}${link.tape ? `, ${link.tape}` : ''}`}</th>
              <td class="figures">{signed(link.value_percent)} % ± {uncertainty(1.96 * link.u_percent)} %</td>
              <td>{against(link)}</td>
              <td><Removing what={`Remove ${link.kind} ${link.id}`} short="Remove" form={{ id: link.id }}
                path={`/api/${link.kind}s/remove`} onDone={onChange}
                warning="It goes from the records for good." /></td>
            </tr>
          ))}
        </tbody>
      </table>
      {!all && <button type="button" class="quiet" onClick={() => showAll(true)}>Show all{' '}
        {links.length}</button>}
    </div>
  );
}

function against(link: Link): string {
  if (link.suspect) return `⚠ disagrees most, by ${signed(link.gross_error_percent ?? 0)} %`;
  if (link.role !== 'used') return ROLES[link.role];
  return link.residual_percent === null ? 'nothing checks it'
    : `off by ${signed(link.residual_percent)} %`;
}
