// Where the decks stand in the picture of trust. Same records, same picture: nothing is left to
// chance, and nothing moves by itself.
import type { Known, Link, Trust } from './types';

export interface Tie { // all plays between two decks, or all anchors of one
  from: number; // epoch; anchors: the same as `to`
  to: number;
  links: Link[];
  u95: number; // of all of them together
  suspect: boolean;
  away: boolean; // all were taken out
}

export interface Place {
  deck: Known;
  row: number; // 0 is at the ground
  x: number;
  y: number;
  anchored: Tie | undefined;
}

export interface Layout {
  places: Place[];
  plays: Tie[];
  width: number;
  height: number;
  node: { width: number; height: number };
  shore: number | null; // height of the line above which nothing is tied
  left: number;         // decks that are not drawn
}

const NODE_HEIGHT = 62;
const ROW = 128;
const GROUND = 58;
const DECKS_MOST = 24;
const BOW = 44; // room for a line that passes others in its row
const K95 = 1.96;

function keyOf(deck: Known): string {
  return `${deck.epoch} ${deck.name}`;
}

export function tiesOf(trust: Trust): Tie[] {
  const epoch = new Map(trust.decks.map((deck) => [keyOf(deck), deck.epoch_id]));
  const ties = new Map<string, Tie>();
  for (const link of trust.links) {
    const to = epoch.get(link.kind === 'play' ? `${link.played_on_epoch} ${link.played_on}`
      : `${link.epoch} ${link.deck}`);
    const from = link.kind === 'play'
      ? epoch.get(`${link.recorded_on_epoch} ${link.recorded_on}`) : to;
    if (from === undefined || to === undefined || link.role === 'drift-check') continue;
    if (link.kind === 'play' && from === to) continue;
    const key = link.kind === 'anchor' ? `a${to}` : `p${Math.min(from, to)}-${Math.max(from, to)}`;
    const tie = ties.get(key) ?? { from, to, links: [], u95: 0, suspect: false, away: false };
    tie.links.push(link);
    ties.set(key, tie);
  }
  for (const tie of ties.values()) {
    const used = tie.links.filter((link) => link.role === 'used');
    tie.away = used.length === 0;
    tie.suspect = tie.links.some((link) => link.suspect || link.role === 'removed');
    tie.u95 = K95 / Math.sqrt((tie.away ? tie.links : used)
      .reduce((sum, link) => sum + link.u_percent ** -2, 0));
  }
  return [...ties.values()];
}

// The decks as they are now, and earlier epochs through which one of them is tied.
function shownOf(trust: Trust): Known[] {
  const alive = new Set(trust.decks.filter((deck) => deck.latest).map((deck) => deck.group));
  return trust.decks.filter((deck) => deck.latest || alive.has(deck.group));
}

// How many plays away from these; decks that are not reached come last.
function distances(shown: Known[], ties: Tie[], from: number[]): Map<number, number> {
  const far = new Map<number, number>();
  let edge = from;
  for (let step = 0; edge.length > 0; step += 1) {
    edge.forEach((epoch) => far.set(epoch, step));
    edge = [...new Set(ties.filter((tie) => tie.from !== tie.to && !tie.away).flatMap((tie) => (
      edge.includes(tie.from) ? [tie.to] : edge.includes(tie.to) ? [tie.from] : [])))]
      .filter((epoch) => !far.has(epoch));
  }
  const last = Math.max(-1, ...shown.map((deck) => far.get(deck.epoch_id) ?? -1));
  for (const deck of shown) if (!far.has(deck.epoch_id)) far.set(deck.epoch_id, last + 1);
  return far;
}

// Beside whom it was compared with: the mean place of its neighbours in the row below.
function sorted(layer: Known[], below: Map<number, number>, ties: Tie[]): Known[] {
  const pull = (deck: Known) => {
    const at = ties.filter((tie) => tie.from !== tie.to).flatMap((tie) => {
      const other = tie.from === deck.epoch_id ? tie.to : tie.to === deck.epoch_id ? tie.from : null;
      const x = other === null ? undefined : below.get(other);
      return x === undefined ? [] : [x];
    });
    return at.length === 0 ? Infinity : at.reduce((sum, x) => sum + x, 0) / at.length;
  };
  return [...layer].sort((a, b) => {
    const [x, y] = [pull(a), pull(b)];
    return x === y ? a.group - b.group || a.epoch_id - b.epoch_id : x - y;
  });
}

// around: the name of a deck; where not all can be drawn, those that are nearest to it are.
export function layOut(trust: Trust, width: number, around: string): Layout {
  const ties = tiesOf(trust);
  const all = shownOf(trust);
  const anchored = ties.filter((tie) => tie.from === tie.to && !tie.away).map((tie) => tie.to);
  const far = distances(all, ties, anchored);
  const middle = all.filter((deck) => deck.name === around && deck.latest);
  const near = middle.length > 0 ? distances(all, ties, middle.map((deck) => deck.epoch_id)) : far;
  const shown = [...all].sort((a, b) => (near.get(a.epoch_id) ?? 0) - (near.get(b.epoch_id) ?? 0)
    || a.epoch_id - b.epoch_id).slice(0, DECKS_MOST);
  const columns = Math.max(2, Math.min(6, Math.floor(width / 190)));
  const node = { width: Math.min(176, Math.floor(width / columns) - 14), height: NODE_HEIGHT };
  const places: Place[] = [];
  const x = new Map<number, number>();
  let row = 0;
  let shoreRow: number | null = null;
  const steps = new Set(shown.map((deck) => far.get(deck.epoch_id) ?? 0));
  for (const step of [...steps].sort((a, b) => a - b)) {
    const layer = sorted(shown.filter((deck) => far.get(deck.epoch_id) === step), x, ties);
    if (layer.some((deck) => !deck.tied) && shoreRow === null) shoreRow = row;
    for (let at = 0; at < layer.length; at += columns) {
      const part = layer.slice(at, at + columns);
      const gap = width / part.length;
      part.forEach((deck, i) => {
        x.set(deck.epoch_id, (i + 0.5) * gap);
        places.push({ deck, row, x: (i + 0.5) * gap, y: 0,
          anchored: ties.find((tie) => tie.from === tie.to && tie.to === deck.epoch_id) });
      });
      row += 1;
    }
  }
  const shoreRoom = shoreRow !== null && shoreRow > 0 ? 34 : 0;
  const topBow = places.filter((place) => place.row === row - 1).length > 2 ? BOW : 0;
  const height = Math.max(row, 1) * ROW + GROUND - 40 + shoreRoom + (shoreRow === 0 ? 26 : 0) + topBow;
  for (const place of places) {
    place.y = height - GROUND - NODE_HEIGHT / 2 - place.row * ROW
      - (shoreRow !== null && place.row >= shoreRow ? shoreRoom : 0);
  }
  const shore = shoreRow === null ? null
    : shoreRow === 0 ? height - 8
      : height - GROUND - NODE_HEIGHT - (shoreRow - 1) * ROW - (ROW - NODE_HEIGHT + shoreRoom) / 2;
  const drawn = new Set(places.map((place) => place.deck.epoch_id));
  return { places, width, height, node, shore, left: all.length - shown.length,
    plays: ties.filter((tie) => tie.from !== tie.to && drawn.has(tie.from) && drawn.has(tie.to)) };
}
