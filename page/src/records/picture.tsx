import { useState } from 'preact/hooks';
import { signed, uncertainty } from '../words';
import { useWidth } from './epochs';
import { layOut, type Layout, type Place, type Tie } from './layout';
import { Pick } from './parts';
import { goTo } from './route';
import { day, times } from './telling';
import type { Trust } from './types';

const LABELS_MOST = 20;

// How sure, as a kind of line: wide and whole, or thin and broken.
const KINDS = [
  { most: 0.05, name: 'strong', words: 'sure to 0.05 %' },
  { most: 0.1, name: 'good', words: 'to 0.1 %' },
  { most: 0.3, name: 'fair', words: 'to 0.3 %' },
  { most: Infinity, name: 'weak', words: 'worse' },
];

function kindOf(tie: Tie): string {
  return KINDS.find((kind) => tie.u95 <= kind.most)?.name ?? 'weak';
}

export function Picture({ trust }: { trust: Trust }) {
  const [place, width] = useWidth(760);
  const [around, setAround] = useState('');
  const layout = layOut(trust, width, around);
  const dense = layout.plays.length > LABELS_MOST;
  return (
    <figure class={`trust-picture${dense ? ' dense' : ''}`}>
      {layout.left > 0 && (
        <Pick name="Draw around" value={around} onInput={setAround}
          help={`There is room for ${layout.places.length}; the lists below have all.`}>
          <option value="">what is nearest to true speed</option>
          {trust.decks.filter((deck) => deck.latest).map((deck) => (
            <option key={deck.epoch_id} value={deck.name}>{deck.name}</option>
          ))}
        </Pick>
      )}
      <div ref={place}>
        <svg width={layout.width} height={layout.height} role="img" aria-label={spoken(trust)}>
          {layout.shore !== null && <Shore layout={layout} />}
          {layout.plays.map((tie) => <Plays key={`${tie.from}-${tie.to}`} tie={tie} layout={layout} />)}
          {layout.places.map((one) => one.anchored
            && <Ground key={one.deck.epoch_id} place={one} tie={one.anchored} node={layout.node} />)}
          {layout.places.map((one) => <Node key={one.deck.epoch_id} place={one} node={layout.node} />)}
          {layout.plays.filter((tie) => !dense || tie.suspect).map((tie) => <Label key={`${tie.from}-${tie.to}`} tie={tie}
            layout={layout} />)}
        </svg>
      </div>
      <figcaption>
        <ul class="legend">
          <li><svg width="30" height="22" aria-hidden="true"><GroundMark x={15} y={3} /></svg> tied to
            true speed by an anchor</li>
          {KINDS.map((kind) => (
            <li key={kind.name}><svg width="44" height="12" aria-hidden="true">
              <line class={`tie ${kind.name}`} x1="2" x2="42" y1="6" y2="6" /></svg> {kind.words}</li>
          ))}
          <li><svg width="44" height="12" aria-hidden="true">
            <line class="tie good suspect" x1="2" x2="42" y1="6" y2="6" /></svg> disagrees with the
            rest</li>
        </ul>
      </figcaption>
    </figure>
  );
}

function spoken(trust: Trust): string {
  const now = trust.decks.filter((deck) => deck.latest);
  const plays = trust.links.filter((link) => link.kind === 'play').length;
  return `Picture of trust: ${times(now.length, 'deck')}, ${trust.untied_decks} of them not tied to `
    + `true speed, ${times(trust.links.length - plays, 'anchor')} and ${times(plays, 'play')}. `
    + 'The sentences and the table below say the same.';
}

function Shore({ layout }: { layout: Layout }) {
  const y = layout.shore ?? 0;
  return (
    <g class="shore">
      <line x1="0" x2={layout.width} y1={y} y2={y} />
      <text x="2" y={y - 7}>Not tied to true speed: only differences are known</text>
    </g>
  );
}

function ends(tie: Tie, layout: Layout): [Place, Place] | null {
  const from = layout.places.find((place) => place.deck.epoch_id === tie.from);
  const to = layout.places.find((place) => place.deck.epoch_id === tie.to);
  if (!from || !to) return null;
  return from.y > to.y || (from.y === to.y && from.x < to.x) ? [from, to] : [to, from];
}

// Straight from one to the other; in one row, past those in between, in a bow above them.
function wayOf([low, high]: [Place, Place], layout: Layout): { path: string; x: number; y: number } {
  const half = layout.node.height / 2;
  if (low.row !== high.row) {
    const y1 = low.y - half;
    const y2 = high.y + half;
    return { path: `M${low.x} ${y1}L${high.x} ${y2}`, x: (low.x + high.x) / 2, y: (y1 + y2) / 2 };
  }
  const mid = (low.x + high.x) / 2;
  const between = layout.places.some((place) => place.row === low.row && place.x > low.x
    && place.x < high.x);
  const gap = high.x - low.x - layout.node.width;
  if (!between) { // the label in the gap, or below it where that is narrow
    return { path: `M${low.x} ${low.y}L${high.x} ${high.y}`, x: mid,
      y: gap > 90 ? low.y : low.y + half + 14 };
  }
  const top = low.y - half;
  return { path: `M${low.x} ${top}C${low.x + 20} ${top - 44} ${high.x - 20} ${top - 44} `
    + `${high.x} ${top}`, x: mid, y: top - 33 };
}

function Plays({ tie, layout }: { tie: Tie; layout: Layout }) {
  const pair = ends(tie, layout);
  if (!pair) return null;
  return <path class={`tie ${kindOf(tie)}${tie.suspect ? ' suspect' : ''}${tie.away ? ' away' : ''}`}
    d={wayOf(pair, layout).path} />;
}

function Label({ tie, layout }: { tie: Tie; layout: Layout }) {
  const pair = ends(tie, layout);
  if (!pair) return null;
  const { x, y } = wayOf(pair, layout);
  const out = tie.links.filter((link) => link.role === 'removed').length;
  const plays = times(tie.links.length, 'play');
  const doubt = out > 0 ? `${out} left out` : tie.suspect ? '⚠ disagrees' : '';
  const width = 7 * Math.max(plays.length, doubt.length) + 8;
  return (
    <g class="tie-label">
      <rect x={x - width / 2} y={y - 10} width={width} height={doubt ? 36 : 20} rx="4" />
      <text x={x} y={y + 4} text-anchor="middle">{plays}</text>
      {doubt && <text class="doubt" x={x} y={y + 20} text-anchor="middle">{doubt}</text>}
    </g>
  );
}

function GroundMark({ x, y }: { x: number; y: number }) {
  return <path class="ground" d={`M${x} ${y}v6M${x - 12} ${y + 6}h24M${x - 7.5} ${y + 11}h15`
    + `M${x - 3} ${y + 16}h6`} />;
}

function Ground({ place, tie, node }: { place: Place; tie: Tie; node: Layout['node'] }) {
  const bottom = place.y + node.height / 2;
  const names = [...new Set(tie.links.map((link) => link.method_name ?? ''))];
  return (
    <g>
      <line class={`tie ${kindOf(tie)}${tie.suspect ? ' suspect' : ''}`} x1={place.x} x2={place.x}
        y1={bottom} y2={bottom + 10} />
      <GroundMark x={place.x} y={bottom + 8} />
      <text class="ground-label" x={place.x} y={bottom + 42} text-anchor="middle">
        {fitted(tie.away ? `${names[0]}, left out` : tie.suspect ? `⚠ ${names[0]} disagrees` : names.length > 1
          ? `${names.length} methods` : names[0] ?? '', node.width + 10)}</text>
    </g>
  );
}

function Node({ place, node }: { place: Place; node: Layout['node'] }) {
  const { deck } = place;
  const left = place.x - node.width / 2;
  const top = place.y - node.height / 2;
  const name = deck.latest ? deck.name : `${deck.name} until ${day(deck.day)}`;
  return (
    <g class={`node${deck.tied ? '' : ' untied'}${deck.latest ? '' : ' earlier'}`}
      onClick={() => goTo('decks', deck.name)}>
      <title>{name}</title>
      <rect x={left} y={top} width={node.width} height={node.height} rx="6" />
      <text x={place.x} y={top + 25} text-anchor="middle" class="node-name">
        {fitted(name, node.width - 12)}</text>
      <text x={place.x} y={top + 47} text-anchor="middle" class="node-figure">
        {deck.error_percent === null ? 'not known'
          : `${signed(deck.error_percent)} ± ${uncertainty(deck.u95_percent ?? NaN)} %`}</text>
    </g>
  );
}

function fitted(text: string, width: number): string {
  const most = Math.floor(width / 8.3); // of bold type
  return text.length <= most ? text : `${text.slice(0, most - 1).trimEnd()}…`;
}
