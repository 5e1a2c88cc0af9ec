import { useEffect, useState } from 'preact/hooks';
import { post } from './bench';
import { type Adjust, QUANTITIES } from './quantity';
import type { Live, SoundKind } from './types';

const KINDS: { kind: SoundKind; name: string; about: string }[] = [
  { kind: 'none', name: 'Silent', about: '' },
  { kind: 'guide', name: 'Guide', about: 'Ticks slow down towards the target; one steady note'
    + ' means there;' },
  { kind: 'reference', name: 'Reference tone', about: 'The tone as a true deck would play this'
    + ' tape; listen for beats with the deck’s own sound.' },
  { kind: 'beat', name: 'Enlarged beat', about: 'The error made ten times larger, so that even'
    + ' a fifth of the tolerance can be heard.' },
];
const QUIETEST = -60;
const LOUDEST = -6;

// By ear, for when the eyes are elsewhere.
export function Ear({ live, adjust }: { live: Live; adjust: Adjust }) {
  const [trouble, setTrouble] = useState('');
  const level = Math.round(live.sound_level_db ?? -20);
  const [wanted, setWanted] = useState<number | null>(null);
  const shown = wanted ?? Math.min(Math.max(level, QUIETEST), LOUDEST);
  const [asked, setAsked] = useState<SoundKind | null>(null); // until the bench says what plays
  const sound = asked ?? live.sound;
  useEffect(() => setAsked(null), [live.sound]);
  const ask = (kind: SoundKind, level_db: number) => {
    setAsked(kind);
    return post('/api/sound', { kind, level_db, output: '' }).then(() => setTrouble(''), (e: Error) => {
      setAsked(null);
      setTrouble(e.message);
    });
  };
  const chosen = KINDS.find((k) => k.kind === sound);
  return (
    <section class="sheet" aria-labelledby="ear-title">
      <h2 id="ear-title">By ear</h2>
      <fieldset class="choices">
        <legend class="unseen">What the loudspeaker plays</legend>
        {KINDS.filter(({ kind }) => kind !== 'reference' || adjust === 'speed').map(({ kind, name }) => (
          <label key={kind}>
            <input type="radio" name="sound" checked={sound === kind}
              onChange={() => ask(kind, shown)} /> {name}
          </label>
        ))}
      </fieldset>
      {chosen?.about && <p class="soft">{chosen.about}
        {chosen.kind === 'guide' && ` ${QUANTITIES[adjust].guide}.`}</p>}
      {live.sound_sentence && <p class="note">{live.sound_sentence}</p>}
      <label class="level">Level <output>{`\u2212${Math.abs(shown)} dB`}</output>
        <input type="range" min={QUIETEST} max={LOUDEST} step={2} value={shown}
          onInput={(e) => setWanted(Number(e.currentTarget.value))}
          onChange={(e) => ask(sound, Number(e.currentTarget.value))} />
      </label>
      {trouble && <p role="alert" class="trouble">{trouble}</p>}
    </section>
  );
}
