import { type Quantity, quantityOf } from './quantity';
import type { Snapshot } from './types';
import { ago } from './words';

const SHOWN = 6;

export function Nudges({ snapshot }: { snapshot: Snapshot | null }) {
  const quantity = quantityOf(snapshot);
  const nudges = snapshot?.nudges ?? [];
  const all = snapshot?.nudge_count ?? 0;
  const first = all - nudges.length; // those that are no longer kept
  const rows = nudges.map((nudge, i) => ({ nudge, number: first + i + 1 })).slice(-SHOWN).reverse();
  return (
    <section class="sheet" aria-labelledby="nudges-title">
      <h2 id="nudges-title">Nudges {all > 0 && <span class="count">{all}</span>}</h2>
      {rows.length === 0
        ? <p class="soft">None yet. Each turn of the {quantity.screw} that is heard gets a number here and in
            the chart.</p>
        : (
          <table>
            <thead><tr><th scope="col">No.</th><th scope="col">{quantity.made}</th>
              <th scope="col">When</th></tr></thead>
            <tbody>
              {rows.map(({ nudge, number }) => (
                <tr key={number}>
                  <td>{number}</td>
                  <td>{effect(nudge.size, quantity)}{overshoot(nudge.overshoot)}</td>
                  <td>{ago((snapshot?.time_s ?? 0) - nudge.time_s)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
    </section>
  );
}

function effect(size: number | null, { digits, unit, less, more }: Quantity): string {
  if (size === null) return 'not read';
  return `${Math.abs(size).toFixed(digits)} ${unit} ${size < 0 ? less : more}`;
}

function overshoot(share: number | null): string {
  return share !== null && share >= 0.05 ? `, overshot by ${Math.round(share * 100)} %` : '';
}
