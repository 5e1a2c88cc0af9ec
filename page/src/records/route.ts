// Where one is on the page: the part of the address behind #, "#/decks/Attic/anchor".
import { useEffect, useState } from 'preact/hooks';

export type Route = string[]; // [] is the coach

function routeNow(): Route {
  return location.hash.replace(/^#\/?/, '').split('/').filter((part) => part !== '')
    .map((part) => {
      try {
        return decodeURIComponent(part);
      } catch {
        return part; // an address that somebody mistyped
      }
    });
}

export function hrefOf(...parts: string[]): string {
  return `#/${parts.map(encodeURIComponent).join('/')}`;
}

export function goTo(...parts: string[]) {
  location.hash = hrefOf(...parts);
}

let moved = false;

// Has one gone from place to place since the page was opened?
export function hasMoved(): boolean {
  return moved;
}

export function useRoute(): Route {
  const [route, setRoute] = useState(routeNow);
  useEffect(() => {
    const look = () => {
      moved = true;
      setRoute(routeNow());
      scrollTo(0, 0);
    };
    addEventListener('hashchange', look);
    return () => removeEventListener('hashchange', look);
  }, []);
  return route;
}
