import type { BudgetLine } from './types';

const shapes: Record<string, string> = { normal: 'bell', rectangular: 'anywhere within limits',
  triangular: 'within limits, rather in the middle', u: 'within limits, rather at the ends' };

// Where an uncertainty comes from, the greatest first.
export function Budget({ lines }: { lines: BudgetLine[] }) {
  const total = Math.sqrt(lines.reduce((sum, line) => sum + line.u_percent ** 2, 0));
  const sorted = [...lines].sort((a, b) => b.u_percent - a.u_percent);
  return (
    <div class="scrolls" tabIndex={0} role="group" aria-label="Budget">
      <table class="budget stacks">
        <thead>
          <tr><th scope="col">What may be wrong</th><th scope="col">Reckoned as</th>
            <th scope="col">Standard uncertainty</th></tr>
        </thead>
        <tbody>
          {sorted.map((line) => (
            <tr key={line.what}>
              <th scope="row">{line.what}</th>
              <td>{line.formula}<span class="soft source">{shapes[line.shape ?? ''] ?? line.shape}
                {line.source ? `; ${line.source}` : ''}</span></td>
              <td>{line.u_percent.toFixed(4)} %</td>
            </tr>
          ))}
        </tbody>
        <tfoot>
          <tr><th scope="row">together</th><td>root of the sum of squares</td>
            <td>{total.toFixed(4)} %</td></tr>
        </tfoot>
      </table>
    </div>
  );
}
