// Fetches what the page is built and tested with, as package-lock.json pins it:
//   node fetch.mjs STAMP FOLDER
// Everything lands in FOLDER; STAMP is written when it is complete. No script of a package is run.
import { spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const [stamp, folder] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));

mkdirSync(folder, { recursive: true });
for (const name of ['package.json', 'package-lock.json'])
  copyFileSync(join(here, name), join(folder, name));

const npm = spawnSync('npm', ['ci', '--ignore-scripts', '--no-audit', '--no-fund',
  '--prefer-offline', '--loglevel=error'], { cwd: folder, encoding: 'utf8' });
if (npm.status !== 0) {
  process.stderr.write(npm.stdout ?? '');
  process.stderr.write(npm.stderr ?? String(npm.error));
  process.stderr.write('\nThe parts of the page could not be fetched with npm (its words stand'
    + ' above); is the network there?\n');
  process.exit(1);
}
writeFileSync(stamp, '');
