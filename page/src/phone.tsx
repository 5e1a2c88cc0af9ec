import { useEffect, useState } from 'preact/hooks';
import { get } from './bench';
import type { Pairing } from './types';

// The same page on a phone beside the deck.
export function Phone() {
  const [pairing, setPairing] = useState<Pairing | null>(null);
  useEffect(() => {
    get<Pairing>('/api/pairing').then(setPairing, () => undefined);
  }, []);
  if (!pairing) return null;
  return (
    <aside aria-label="Pairing a phone"><details class="sheet phone">
      <summary>On a phone beside the deck</summary>
      {pairing.lan && pairing.picture
        ? (
          <div class="pairing">
            <img alt="Pairing code for a phone: the address below as a QR code"
              src={`data:image/svg+xml,${encodeURIComponent(pairing.picture)}`} />
            <div>
              <p>Scan this with a phone in the same network. Whoever has the code can use the bench
                until the program ends: show it to nobody else.</p>
              <p class="address">{pairing.address}</p>
            </div>
          </div>
        )
        : <p>Start the bench with <code>evenspool bench --lan</code>; it then shows a code to scan
            here and in the terminal. Now it serves this computer only.</p>}
    </details></aside>
  );
}
