// What can be adjusted, and how each quantity is written and spoken of.
export type Adjust = 'speed' | 'azimuth' | 'level' | 'balance';

export interface Quantity {
  choice: string;    // in the list of what to adjust
  unit: string;
  spoken: string;    // the unit, read out
  suffix: 'percent' | 'us' | 'db'; // of its keys in the server's documents
  digits: number;
  tolerance: number; // the usual one
  low: string;       // below the target: in small letters, for the scale
  high: string;
  lowCried: string;  // the same for the hero
  highCried: string;
  hero: string;      // what the figure is of
  screw: string;     // what the hand turns
  made: string;      // head of the nudges' table
  less: string;      // what a nudge did
  more: string;
  guide: string;     // the guide's high and low
}

const LEVEL = { unit: 'dB', spoken: 'decibels', suffix: 'db' as const, digits: 2, tolerance: 0.5,
  screw: 'level trimmer', less: 'softer', more: 'louder' };

export const QUANTITIES: Record<Adjust, Quantity> = {
  speed: { choice: 'Speed', unit: '%', spoken: 'percent', suffix: 'percent', digits: 2,
    tolerance: 0.1, low: 'slow', high: 'fast', lowCried: 'SLOW', highCried: 'FAST',
    hero: 'The deck’s speed', screw: 'trimmer', made: 'Made the deck', less: 'slower',
    more: 'faster', guide: 'high is fast, low is slow' },
  azimuth: { choice: 'Azimuth of the head', unit: 'µs', spoken: 'microseconds', suffix: 'us',
    digits: 1, tolerance: 5, low: 'right early', high: 'right late', lowCried: 'RIGHT EARLY',
    highCried: 'RIGHT LATE', hero: 'Delay of the right channel', screw: 'azimuth screw',
    made: 'Made the right channel', less: 'earlier', more: 'later',
    guide: 'high is right late, low is right early' },
  level: { ...LEVEL, choice: 'Playback level', low: 'soft', high: 'loud', lowCried: 'TOO SOFT',
    highCried: 'TOO LOUD', hero: 'Playback level', made: 'Made the channel',
    guide: 'high is loud, low is soft' },
  balance: { ...LEVEL, choice: 'Balance of the channels', low: 'right soft', high: 'right loud',
    lowCried: 'RIGHT SOFT', highCried: 'RIGHT LOUD', hero: 'Right channel against the left',
    made: 'Made the right channel', guide: 'high is right loud, low is right soft' },
};

export function quantityOf(about: { adjust: Adjust } | null): Quantity {
  return QUANTITIES[about?.adjust ?? 'speed'];
}
