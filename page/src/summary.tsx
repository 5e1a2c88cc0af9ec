import { useEffect, useState } from 'preact/hooks';
import { get, post } from './bench';
import { recordOf, requestOf } from './documents';
import { QUANTITIES, type Quantity } from './quantity';
import { KeepJob } from './records/keep';
import type { Believed, Facts, SessionRecord } from './types';
import { signed, uncertainty } from './words';

// What the session came to, once it is over.
export function Summary({ facts }: { facts: Facts }) {
  const [record, setRecord] = useState<SessionRecord | null>(null);
  const quantity = QUANTITIES[record?.adjust ?? 'speed'];
  const [trouble, setTrouble] = useState('');
  const tell = (e: Error) => setTrouble(e.message);
  useEffect(() => {
    get<Record<string, unknown>>('/api/record').then((d) => setRecord(recordOf(d)), tell);
  }, []);
  return (
    <section class="sheet summary" aria-labelledby="summary-title">
      <h2 id="summary-title">{facts.phase === 'failed' ? 'The session broke off' : 'The session is over'}
      </h2>
      {facts.live?.sentence && <p class="note">{facts.live.sentence}</p>}
      {record && (
        <dl>
          <div><dt>As found</dt><dd>{believed(record.as_found, quantity)}</dd></div>
          <div><dt>Nudges</dt><dd>{record.nudge_count}</dd></div>
          <div><dt>{record.final ? 'As left, final reading' : 'As left'}</dt>
            <dd>{believed(record.as_left, quantity)}</dd></div>
        </dl>
      )}
      {record?.as_left && <KeepJob facts={facts} />}
      <p>Covers, leads and screws go back where they were before the deck runs unattended.</p>
      <div class="again">
        <button type="button" onClick={() => post('/api/session', requestOf(facts.settings)).catch(tell)}>
          Listen again</button>
        <button type="button" class="quiet" onClick={() => post('/api/clear').catch(tell)}>
          Choose something else</button>
      </div>
      {trouble && <p role="alert" class="trouble">{trouble}</p>}
    </section>
  );
}

function believed(reading: Believed | null, { digits, unit }: Quantity) {
  if (!reading) return 'no reading';
  const u = reading.u95;
  return <>{signed(reading.error, digits)} {unit}{u !== null
    && <small> ± {uncertainty(u, digits)} {unit}</small>}</>;
}
