import { useState } from 'preact/hooks';
import { type Adjust, QUANTITIES } from './quantity';

// What docs/safety.md says about working with the covers off, where that work is done.
function Rules({ adjust }: { adjust: Adjust }) {
  const { screw } = QUANTITIES[adjust];
  return (
    <ul class="rules">
      <li><strong>The rules where you live come first.</strong> Where they ask for a licensed or
        qualified person, or where you are unsure of anything here, stop and have such a person do
        this part.</li>
      <li>A deck that is plugged in has mains voltage inside, <strong>even when it is switched
        off</strong>: at the switch, the fuse and the transformer, perhaps a finger’s breadth from
        the {screw}. Cover what is live and near.</li>
      <li>Feed the deck through an isolating transformer, the rest of the bench through a
        residual-current device; behind the transformer that device does not protect you.</li>
      <li>The tool: insulated, not metal, not magnetic.</li>
      <li>One hand only; the other keeps away from all metal. Sleeves, hair, rings and chains stay
        away from belts and flywheels.</li>
      {adjust !== 'speed' && <li><strong>Note where the {screw} stands</strong> before you turn it,
        and seal it afterwards with a drop of lacquer.</li>}
      {adjust === 'azimuth' && <li>No magnetised tool near the head: it leaves hiss on every tape
        that is played. Do not touch the face of the head.</li>}
      <li>Small turns. A {adjust === 'azimuth' ? 'screw' : 'trimmer'} that resists is at its end.</li>
      <li>Not tired, not in a hurry, not alone in the house. The covers go back on before it runs
        unattended.</li>
    </ul>
  );
}

interface Props {
  rehearsing: boolean;
  adjust: Adjust;
  onAccept: () => void;
}

export function Cautions({ rehearsing, adjust, onAccept }: Props) {
  const [read, setRead] = useState(false);
  return (
    <section class="sheet cautions" aria-labelledby="cautions-title">
      <h2 id="cautions-title"><Flash /> Before a hand goes near the {QUANTITIES[adjust].screw}</h2>
      {rehearsing && <p>This is the rehearsal deck: nothing here can hurt. The real one can, so the
        habit is the same.</p>}
      <Rules adjust={adjust} />
      <div class="accept">
        <label class="check"><input type="checkbox" checked={read}
          onChange={(e) => setRead(e.currentTarget.checked)} /> I have read this, and the bench is
          safe to work at.</label>
        <button type="button" disabled={!read} onClick={onAccept}>Tell me how to turn</button>
      </div>
    </section>
  );
}

export function AtHand({ rehearsing, adjust }: { rehearsing: boolean; adjust: Adjust }) {
  return (
    <details class="at-hand">
      <summary><Flash /> {rehearsing ? 'On a real deck: mains inside. ' : 'Mains inside. '}
        Insulated tool, one hand, small turns.
        {adjust !== 'speed' && ` Note where the ${QUANTITIES[adjust].screw} stood; seal it afterwards.`}
        {adjust === 'azimuth' && ' Nothing magnetised near the head.'}</summary>
      <Rules adjust={adjust} />
    </details>
  );
}

function Flash() {
  return (
    <svg class="flash" viewBox="0 0 24 24" aria-hidden="true">
      <path class="plate" d="M12 2 L23 21.5 H1 Z" />
      <path class="bolt" d="M13.2 7.5 L9 14.6 H12 L10.8 19 L15 12.4 H12 Z" />
    </svg>
  );
}
