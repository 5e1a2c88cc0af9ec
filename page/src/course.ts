// The last two minutes of what is adjusted, as the chart wants them.
import type { SessionRecord, Snapshot } from './types';

export const SPAN_S = 120;

export class Course {
  time: number[] = [];
  value: (number | null)[] = [];

  clear() {
    this.time = [];
    this.value = [];
  }

  // What the server kept, under what came since it was asked for.
  fill({ from_s, step_s, values }: SessionRecord['trace']) {
    if (from_s === null) return;
    const times = values.map((_, i) => from_s + i * step_s);
    const last = times[times.length - 1] ?? -Infinity;
    const newer = this.time.findIndex((t) => t > last + step_s / 2);
    const keepFrom = newer < 0 ? this.time.length : newer;
    this.time = [...times, ...this.time.slice(keepFrom)];
    this.value = [...values, ...this.value.slice(keepFrom)];
    this.trim();
  }

  add(snapshot: Snapshot) {
    const last = this.time[this.time.length - 1];
    if (last !== undefined && snapshot.time_s <= last) return;
    this.time.push(snapshot.time_s);
    this.value.push(snapshot.live);
    this.trim();
  }

  private trim() {
    const from = (this.time[this.time.length - 1] ?? 0) - SPAN_S;
    const old = this.time.findIndex((t) => t >= from);
    if (old > 64) {
      this.time.splice(0, old);
      this.value.splice(0, old);
    }
  }
}
