import type { Facts, Live, Snapshot } from './types';

interface Props {
  facts: Facts;
  snapshot: Snapshot | null;
  lost: number;
}

export function SessionFacts({ facts, snapshot, lost }: Props) {
  const live = facts.live;
  if (!live) return null;
  return (
    <section class="sheet" aria-labelledby="session-title">
      <h2 id="session-title">Session</h2>
      <dl>
        <dt>Input level</dt>
        <dd class={live.level ? 'warn' : ''}>{live.level ? `⚠ ${live.level}` : 'right'}</dd>
        {facts.phase === 'running' && facts.settings.adjust === 'speed' && (
          <>
            <dt>Tone</dt>
            <dd>{tone(snapshot)}</dd>
          </>
        )}
        <dt>Input</dt>
        <dd>{input(live)}</dd>
        <dt>Lost input</dt>
        <dd class={live.lost_frames > 0 ? 'warn' : ''}>{lostInput(live)}</dd>
        {live.recording && (
          <>
            <dt>Recording</dt>
            <dd class={live.recording_sentence ? 'warn' : ''}>
              {live.recording_sentence ? `⚠ ${live.recording_sentence}` : live.recording}
            </dd>
          </>
        )}
        {lost + facts.missed > 0 && (
          <>
            <dt>This page</dt>
            <dd>was too slow for {lost + facts.missed} readings; the session has them all</dd>
          </>
        )}
      </dl>
      {live.sentence && facts.phase === 'running' && <p class="note">{live.sentence}</p>}
    </section>
  );
}

function tone(snapshot: Snapshot | null): string {
  if (!snapshot || snapshot.heard_hz === null) return 'not heard';
  const clear = snapshot.snr_db === null ? '' : `, ${Math.round(snapshot.snr_db)} dB above the noise`;
  const of = snapshot.nominal_hz === null ? '' : ` of ${snapshot.nominal_hz} Hz`;
  return `${snapshot.heard_hz.toFixed(1)} Hz heard${of}${clear}`;
}

function input(live: Live): string {
  if (live.rate_hz === null) return 'not known';
  const channels = live.channels === 1 ? 'mono' : live.channels === 2 ? 'stereo'
    : `${live.channels} channels`;
  return `${live.device ? `${live.device}, ` : ''}${live.rate_hz / 1000} kHz, ${channels}`;
}

function lostInput(live: Live): string {
  if (live.lost_frames === 0 && live.overruns === 0) return 'none';
  const seconds = live.rate_hz ? `${(live.lost_frames / live.rate_hz).toFixed(2)} s` : 'some';
  return `⚠ ${seconds} in ${live.overruns === 1 ? '1 gap' : `${live.overruns} gaps`}`;
}
