// Checks and bundles the page, and writes it as C source that is compiled into the program:
//   node build.mjs OUT.c MODULES-FOLDER
// The sources are copied beside the modules, so that nothing is written into the source tree.
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

const [out, modules] = process.argv.slice(2).map((path) => resolve(path));
const here = dirname(fileURLToPath(import.meta.url));
const require = createRequire(join(modules, 'package.json'));

rmSync(join(modules, 'src'), { recursive: true, force: true });
mkdirSync(modules, { recursive: true });
for (const name of ['src', 'tsconfig.json', 'page.html', 'mark.svg'])
  cpSync(join(here, name), join(modules, name), { recursive: true });

function checkTypes() {
  const script = join(dirname(require.resolve('typescript/package.json')), 'bin', 'tsc');
  return new Promise((done) => {
    const tsc = spawn(process.execPath, [script, '-p', modules], { stdio: 'inherit' });
    tsc.on('close', (code) => done(code === 0));
  });
}

async function bundle() {
  const esbuild = require('esbuild');
  const result = await esbuild.build({
    absWorkingDir: modules,
    entryPoints: { page: 'src/main.tsx' },
    outdir: 'bundle',
    bundle: true,
    minify: true,
    write: false,
    target: 'es2022',
    format: 'iife',
    legalComments: 'eof',
    jsx: 'automatic',
    jsxImportSource: 'preact',
    logLevel: 'warning',
  });
  if (result.warnings.length > 0) process.exit(1);
  return Object.fromEntries(result.outputFiles.map((f) => [f.path.endsWith('.css') ? 'css' : 'js',
    Buffer.from(f.contents)]));
}

function cArray(name, data) {
  const lines = [];
  for (let at = 0; at < data.length; at += 24)
    lines.push(`${[...data.subarray(at, at + 24)].join(',')},`);
  return `static const unsigned char ${name}[] = {\n${lines.join('\n')}\n};\n`;
}

function cSource(files) {
  const arrays = files.map((f, i) => cArray(`file_${i}`, f.data));
  const rows = files.map((f, i) => {
    const tag = createHash('sha256').update(f.data).digest('hex').slice(0, 16);
    return `    {"${f.path}", "${f.type}", "\\"${tag}\\"", file_${i}, sizeof file_${i}},`;
  });
  return ['/* Written by page/build.mjs from page/. */', '#include "serve/files.h"', '', ...arrays,
    'const es_page_file es_page_files[] = {', ...rows, '};',
    'const size_t es_page_file_count = sizeof es_page_files / sizeof *es_page_files;', '']
    .join('\n');
}

const [sound, bundled] = await Promise.all([checkTypes(), bundle()]);
if (!sound) process.exit(1);
writeFileSync(out, cSource([
  { path: '/', type: 'text/html; charset=utf-8', data: readFileSync(join(here, 'page.html')) },
  { path: '/page.js', type: 'text/javascript; charset=utf-8', data: bundled.js },
  { path: '/page.css', type: 'text/css; charset=utf-8', data: bundled.css },
  { path: '/mark.svg', type: 'image/svg+xml', data: readFileSync(join(here, 'mark.svg')) },
]));
