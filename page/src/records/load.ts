// Documents of the records: fetched when a place is opened, and again when something was changed.
import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import { get } from '../bench';

export interface Loaded<T> {
  data: T | null;
  trouble: string;
  reload: () => void;
}

// What came for an address that is no longer wanted is dropped.
export function useLoaded<T>(path: string | null): Loaded<T> {
  const [data, setData] = useState<T | null>(null);
  const [trouble, setTrouble] = useState('');
  const asked = useRef(0);
  const reload = useCallback(() => {
    const mine = ++asked.current;
    if (path === null) return;
    get<T>(path).then((got) => {
      if (mine !== asked.current) return;
      setData(got);
      setTrouble('');
    }, (e: Error) => {
      if (mine === asked.current) setTrouble(e.message);
    });
  }, [path]);
  useEffect(() => { // what was there stays until the other has come: nothing loses the focus
    setTrouble('');
    reload();
    return () => {
      asked.current += 1;
    };
  }, [reload]);
  return { data, trouble, reload };
}
