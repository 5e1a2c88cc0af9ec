// The last two minutes of the deck's speed, as the chart wants them.
import type { SessionRecord, Snapshot } from './types';

export const SPAN_S = 120;

export class Course {
  time: number[] = [];
  percent: (number | null)[] = [];

  clear() {
    this.time = [];
    this.percent = [];
  }

  // What the server kept, under what came since it was asked for.
  fill({ from_s, step_s, percent }: SessionRecord['trace']) {
    if (from_s === null) return;
    const times = percent.map((_, i) => from_s + i * step_s);
    const last = times[times.length - 1] ?? -Infinity;
    const newer = this.time.findIndex((t) => t > last + step_s / 2);
    const keepFrom = newer < 0 ? this.time.length : newer;
    this.time = [...times, ...this.time.slice(keepFrom)];
    this.percent = [...percent, ...this.percent.slice(keepFrom)];
    this.trim();
  }

  add(snapshot: Snapshot) {
    const last = this.time[this.time.length - 1];
    if (last !== undefined && snapshot.time_s <= last) return;
    this.time.push(snapshot.time_s);
    this.percent.push(snapshot.live_percent);
    this.trim();
  }

  private trim() {
    const from = (this.time[this.time.length - 1] ?? 0) - SPAN_S;
    const old = this.time.findIndex((t) => t >= from);
    if (old > 64) {
      this.time.splice(0, old);
      this.percent.splice(0, old);
    }
  }
}
