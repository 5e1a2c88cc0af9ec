// What the browser tests share: the server program, Chromium, checks and pictures.
import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const [modules, program, pictures] = process.argv.slice(2).map((path) => resolve(path));
const require = createRequire(join(modules, 'package.json'));
const { chromium } = require('playwright-core');
const axeSource = require('axe-core').source;

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser'];
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
  '--disable-background-networking', '--disable-component-update', '--disable-sync',
  '--disable-dev-shm-usage'];

// Holds every answer of the server back for up to so many milliseconds, to find the check that looks
// before the page is there: EVENSPOOL_ANSWERS_MS=500 node records.mjs ...
const ANSWERS_MS = Number(process.env.EVENSPOOL_ANSWERS_MS ?? 0);

// For what must come: a busy machine may stand still for seconds.
export const PATIENCE_MS = 60000;

export const WIDE = { width: 1280, height: 800 };
export const PHONE = { width: 390, height: 844 };

export function startServer(...options) {
  return new Promise((done, fail) => {
    const server = spawn(program, options, { stdio: ['pipe', 'pipe', 'inherit'] });
    let told = '';
    server.on('error', fail);
    server.on('exit', (code) => fail(new Error(`the server ended with ${code}`)));
    server.stdout.on('data', (data) => {
      told += data;
      if (!told.includes('\n')) return;
      const { address, pairing } = JSON.parse(told);
      done({ address, pairing, pause: () => server.kill('SIGSTOP'),
        goOn: () => server.kill('SIGCONT'),
        end: () => new Promise((ended) => {
          server.removeAllListeners('exit');
          server.on('exit', ended);
          server.kill('SIGCONT');
          server.kill('SIGTERM');
        }) });
    });
  });
}

async function holdBack(route) {
  await new Promise((done) => setTimeout(done, Math.random() * ANSWERS_MS));
  await route.continue().catch(() => undefined); // the page may be gone by now
}

// Opens a browser with an empty profile, and fails the test for whatever the page complains of or
// asks of another server.
export async function withBrowser(use) {
  const profile = mkdtempSync(join(tmpdir(), 'evenspool-page-'));
  const browser = await chromium.launchPersistentContext(profile, { headless: true, args: FLAGS,
    timeout: 2 * PATIENCE_MS, executablePath: CHROMIUM.find((path) => existsSync(path)) });
  const complaints = [];
  const watch = (page) => {
    page.on('console', (message) => {
      if (['error', 'warning'].includes(message.type())) complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(String(error)));
    page.on('request', (request) => {
      const { hostname, protocol } = new URL(request.url());
      if (protocol !== 'data:' && hostname !== '127.0.0.1') complaints.push(request.url());
    });
  };
  try {
    await use({
      complaints,
      open: async (address, { size = WIDE, dark = false, calm = false } = {}) => {
        const page = await browser.newPage();
        page.setDefaultTimeout(PATIENCE_MS);
        watch(page);
        if (ANSWERS_MS > 0) await page.route('**/api/**', holdBack);
        await page.setViewportSize(size);
        await page.emulateMedia({ colorScheme: dark ? 'dark' : 'light',
          reducedMotion: calm ? 'reduce' : 'no-preference' });
        await page.goto(address);
        return page;
      },
    });
  } finally {
    await browser.close();
    rmSync(profile, { recursive: true, force: true });
  }
}

export async function picture(page, name) {
  mkdirSync(pictures, { recursive: true });
  await page.evaluate(() => scrollTo(0, 0));
  await page.waitForTimeout(200);
  await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
}

// axe's rules for WCAG 2.2 A and AA, and its best practices; no violation is tolerated.
export async function accessible(page, what) {
  await page.evaluate(axeSource);
  const { violations, passes } = await page.evaluate(() => window.axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
  check(passes.length > 10, `axe looked at ${what}`);
  check(violations.length === 0, `axe finds nothing wrong with ${what}: ${violations.map((v) =>
    `${v.id} (${v.nodes.map((n) => n.target.join(' ')).join(', ')})`).join('; ') || 'nothing'}`);
}

export async function fits(page, what) {
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  check(wide <= 0, `${what} needs no scrolling sideways (${wide} px over)`);
}

// Waits until the text stands on the page.
export function says(page, text, options) {
  return page.waitForSelector(`text=${text}`, options).then(() => true, () => false);
}

// Waits until the text stands in (one of) what the selector finds.
export function shows(page, selector, text) {
  return page.locator(selector).filter({ hasText: text }).first().waitFor()
    .then(() => true, () => false);
}

let passed = 0;
let failed = 0;

export function check(truth, what) {
  if (truth) passed += 1;
  else failed += 1;
  console.log(`${truth ? 'ok' : 'NOT OK'} - ${what}`);
}

export async function test(run) {
  if (!CHROMIUM.some((path) => existsSync(path))) {
    console.log('skipped: Chromium is not installed');
    process.exit(77);
  }
  try {
    await run();
  } catch (error) {
    check(false, error.stack);
  }
  console.log(`${passed} passed, ${failed} failed`);
  process.exit(failed > 0 || passed === 0 ? 1 : 0);
}
