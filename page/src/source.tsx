// Where the sound is taken from: what the coach and the test tape ask alike.
import { useEffect, useState } from 'preact/hooks';
import { get } from './bench';
import type { Sources } from './types';

export interface Looking {
  sources: Sources | null; // null: not known yet
  look: () => void;
}

// What the bench's computer can listen to; onFound hears of it each time it was looked for.
export function useSources(onFound: (found: Sources) => void): Looking & { trouble: string } {
  const [sources, setSources] = useState<Sources | null>(null);
  const [trouble, setTrouble] = useState('');
  const look = () => get<Sources>('/api/sources').then((found) => {
    setSources(found);
    setTrouble('');
    onFound(found);
  }, (e: Error) => setTrouble(e.message));
  useEffect(() => {
    look();
  }, []);
  return { sources, trouble, look };
}

// Can it be asked for? A file's own field asks for its name; the others must have been found first.
export function isNamed(kind: string, name: string): boolean {
  return kind === 'file' || name !== '';
}

interface Choice<Kind> {
  kind: Kind;
  device: string;
  file: string;
}

interface Props<Kind> extends Looking {
  kinds: [Kind, string][]; // in their order, with what they are called
  form: Choice<Kind>;
  set: (change: Partial<Choice<Kind>>) => void;
}

// The kinds of source, and what a live input or a file needs; other kinds are the caller's.
export function SourceFields<Kind extends string>({ kinds, form, set, sources, look }:
Props<Kind>) {
  return (
    <>
      <fieldset class="choices">
        <legend class="unseen">Kind of source</legend>
        {kinds.map(([kind, name]) => (
          <label key={kind}><input type="radio" name="kind" checked={form.kind === kind}
            onChange={() => set({ kind })} /> {name}</label>
        ))}
      </fieldset>
      {form.kind === 'device' && (
        <Device value={form.device} onInput={(device) => set({ device })} sources={sources}
          look={look} />
      )}
      {form.kind === 'file' && (
        <label class="field">File on the bench’s computer
          <input type="text" value={form.file} required autocomplete="off" spellcheck={false}
            onInput={(e) => set({ file: e.currentTarget.value })} />
        </label>
      )}
    </>
  );
}

function Device({ value, onInput, sources, look }: Looking & { value: string;
  onInput: (device: string) => void }) {
  const inputs = sources?.inputs ?? [];
  return (
    <div class="with-button">
      {inputs.length > 0
        ? (
          <label class="field">Live input
            <select value={value} onChange={(e) => onInput(e.currentTarget.value)}>
              {inputs.map(({ name, about }) => (
                <option key={name} value={name}>{about ? `${name} (${about})` : name}</option>
              ))}
            </select>
          </label>
        )
        : <p>{sources?.inputs_sentence
            ?? (sources ? 'No live input was found; plug one in and look again.' : 'Looking…')}</p>}
      <button type="button" class="quiet" onClick={look}>Look again</button>
    </div>
  );
}
