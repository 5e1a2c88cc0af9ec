import { hrefOf, type Route } from './route';

const places = [['', 'Coach'], ['decks', 'Decks'], ['tapes', 'Tapes'], ['trust', 'Trust'],
  ['test-tape', 'Test tape']] as const;

// Forms belong to a place, but have an address of their own.
const forms: Record<string, string> = { 'new-deck': 'decks', 'new-tape': 'tapes', anchor: 'trust',
  play: 'trust' };

export function placeOf(route: Route): string {
  const place = forms[route[0] ?? ''] ?? route[0] ?? '';
  return places.some(([key]) => key === place) ? place : '';
}

export function titleOf(route: Route): string {
  const name = places.find(([key]) => key === placeOf(route))?.[1];
  if (placeOf(route) === '') return 'Evenspool';
  return `${route[1] ? `${route[1]} · ` : ''}${name} · Evenspool`;
}

export function Nav({ route, listening }: { route: Route; listening: boolean }) {
  const here = placeOf(route);
  return (
    <nav class="places" aria-label="Places">
      <ul>
        {places.map(([key, name]) => (
          <li key={key}>
            <a href={key === '' ? '#/' : hrefOf(key)} aria-current={here === key ? 'page' : undefined}>
              {name}{key === '' && listening && here !== '' ? ' (listening)' : ''}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}
