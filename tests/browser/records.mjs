// The places of the records over a real file: decks, tapes and trust as somebody sees and fills them.
//   node records.mjs MODULES-FOLDER SERVER-PROGRAM PICTURES-FOLDER
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { accessible, check, fits, PHONE, picture, says, shows, startServer, test,
  withBrowser } from './browser.mjs';

const SPEED_M_S = 0.047625; // 1 7/8 in/s
const LOOKS = [['light', {}], ['dark', { dark: true }], ['phone', { size: PHONE }],
  ['phone-dark', { size: PHONE, dark: true }]];

const heading = (page, text) => page.waitForSelector(`h2:has-text("${text}")`);

function sender(address) {
  return async (path, form) => {
    const answer = await fetch(new URL(path, address), { method: 'POST',
      headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(form) });
    if (!answer.ok) throw new Error(`${path}: ${await answer.text()}`);
    return answer.json();
  };
}

// A made-up workshop: one deck tied, two by plays (one of them wrong), two that only know each other.
async function fill(send) {
  for (const name of ['Attic', 'Bench left', 'Bench right', 'Grey portable', 'Red recorder'])
    await send('/api/decks/add', { name });
  const timed = (deck, percent, at) => send('/api/anchors/add', { deck, method: 'tape-length',
    length_m: 60, time_s: 60 / SPEED_M_S / (1 + percent / 100), made_at: at });
  const play = (recorded_on, played_on, heard_percent, at) => send('/api/plays/add', { recorded_on,
    played_on, heard_percent, u95_percent: 0.04, recorded_at: at, played_at: at });
  await timed('Attic', 0.9, '2024-02-03');
  await send('/api/decks/adjusted', { deck: 'Attic', when: '2024-03-04', why: 'new belt' });
  await timed('Attic', 0.4, '2024-05-03');
  await play('Attic', 'Bench left', -0.1, '2024-05-03');
  await play('Attic', 'Bench left', -0.11, '2024-05-04');
  await play('Bench left', 'Bench right', 0.55, '2024-05-20');
  await play('Attic', 'Bench right', 0.44, '2024-05-21');
  await play('Bench right', 'Attic', -1.9, '2024-06-01'); // a slip of the pen
  await play('Grey portable', 'Red recorder', 1.2, '2024-06-02');
  await send('/api/tapes/add', { name: 'Tone 1', recorded_on: 'Attic', recorded_at: '2024-05-03' });
}

async function nothingYet(open, address) {
  const page = await open(address);
  check(await says(page, 'There are no decks in the records yet'), 'the coach offers to add a deck');
  await page.click('nav >> text=Decks');
  check(await says(page, 'There are no decks here yet'), 'an empty list says what it is for');
  await accessible(page, 'no decks');
  await page.click('nav >> text=Tapes');
  check(await says(page, 'There are no tapes here yet'), 'so does that of the tapes');
  await page.click('nav >> text=Trust');
  check(await says(page, 'add the first'), 'and that of trust');
  await accessible(page, 'no trust');
  await page.close();
}

async function finding(open, address) {
  const page = await open(address);
  await page.click('nav >> text=Decks');
  await heading(page, 'Decks');
  await page.waitForFunction(() => document.title === 'Decks · Evenspool');
  check(true, 'a place has its title');
  await page.waitForFunction(() => document.activeElement?.matches('h2'));
  check(true, 'its heading is read out');
  check(await page.getAttribute('nav a:has-text("Decks")', 'aria-current') === 'page',
    'the way says where one is');
  await page.click('nav >> text=Trust');
  await heading(page, 'Trust');
  await page.goBack();
  check(await heading(page, 'Decks').then(() => true), 'back goes back');
  await page.goBack();
  check(await says(page, 'What shall be listened to?'), 'and again to the coach');
  await page.goto(new URL('#/no-such-place', address).href);
  check(await says(page, 'What shall be listened to?'), 'an address that is none is the coach');
  await page.close();
}

async function byKeyboardAlone(open, address) {
  const page = await open(new URL('#/new-deck', address).href);
  await heading(page, 'Add a deck');
  const reach = async (selector) => {
    for (let i = 0; i < 40; i += 1) {
      await page.keyboard.press('Tab');
      if (await page.evaluate((what) => document.activeElement.matches(what), selector)) return;
    }
    throw new Error(`${selector} can’t be reached by keys`);
  };
  await reach('input[type=text]');
  const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineWidth);
  check(outline === '3px', 'the focus can be seen');
  await page.keyboard.type('Cellar & «Ω» / 50 %');
  await page.keyboard.press('Enter');
  await heading(page, 'Cellar & «Ω» / 50 %');
  check(await says(page, 'not tied to true speed yet'), 'a deck is added by keys alone, of any name');
  await page.reload();
  await heading(page, 'Cellar & «Ω» / 50 %');
  check(true, 'its address leads back to it');
  await page.click('text=Edit');
  await page.getByLabel('Notes').fill('From a flea market.\nNo belt.');
  await page.click('summary:has-text("Sizes")');
  await page.getByLabel('Capstan, diameter').fill('2,5');
  await accessible(page, 'editing a deck');
  await page.click('button:has-text("Keep")');
  check(await says(page, '2.5 mm'), 'sizes are in millimetres, with a comma or a point');
  check(await says(page, 'No belt.'), 'notes are shown');
  await page.click('text=Remove this deck');
  check(await says(page, 'goes from the records'), 'removing asks once more');
  await page.click('text=Yes, remove');
  await heading(page, 'Decks');
  await page.close();
}

async function tying(open, address) {
  const page = await open(new URL('#/decks/Grey%20portable/anchor', address).href);
  await heading(page, 'Tie Grey portable to true speed');
  check(await says(page, 'Still to be answered: 2 questions'), 'what is open is said');
  check(await page.innerText('.formula') === 'speed error = length / (time × nominal speed) − 1',
    'the formula is shown');
  await page.getByLabel('How long is the tape from the first mark').fill('60');
  await page.getByLabel('How long does it take').fill('1250');
  await page.waitForSelector('.budget');
  const percent = 100 * (60 / (1250 * SPEED_M_S) - 1); // by hand
  check(await page.innerText('.known-figure strong') === `+${percent.toFixed(2)} %`,
    'the figure is that of the formula');
  const parts = await page.$$eval('.budget tbody td:last-child', (cells) => cells.map((cell) =>
    parseFloat(cell.textContent)));
  const together = parseFloat(await page.innerText('.budget tfoot td:last-child'));
  const sum = Math.sqrt(parts.reduce((total, part) => total + part * part, 0));
  check(parts.length > 3 && Math.abs(sum - together) < 2e-4,
    `the parts make up the whole, as squares (JCGM 100, 5.1.2): ${sum.toFixed(4)}, ${together}`);
  await accessible(page, 'an anchor');
  await picture(page, 'records-anchor');
  await page.click('summary:has-text("Finer questions")');
  await page.getByLabel('How was the time taken?').selectOption({ label: 'by hand with a watch' });
  check(await says(page, 'pressing the watch'), 'the budget follows each answer');
  await page.getByLabel('How long does it take').fill('soon');
  check(await says(page, 'is not a number'), 'what is no number is told');
  check(!await page.isVisible('button:has-text("Keep as an anchor")'), 'and can’t be kept');
  await page.getByLabel('How long does it take').fill('1250');
  await page.getByLabel('capstan diameter and turning rate').check();
  check(await says(page, 'With the plug pulled'), 'where a hand goes in there is a caution');
  await page.getByLabel('timed tape length').check();
  await page.getByLabel('How long is the tape from the first mark').fill('60');
  await page.getByLabel('How long does it take').fill('1250');
  await page.click('button:has-text("Keep as an anchor")');
  await heading(page, 'Grey portable');
  check(await says(page, 'Tied to true speed'), 'it is in the deck’s history');
  check(await says(page, `Grey portable runs ${percent.toFixed(2)}`), 'and in a sentence');
  await page.close();
}

async function playing(open, address) {
  const page = await open(new URL('#/play', address).href);
  await heading(page, 'Enter a play');
  check(await page.isDisabled('button:has-text("Keep the play")'), 'two decks must be chosen');
  await page.waitForFunction(() => document.querySelectorAll('select')[1]?.options.length > 4);
  await page.getByLabel('Recorded on').selectOption('Bench left');
  await page.getByLabel('Played on').selectOption('Bench left');
  check(await says(page, 'The same deck on both sides'), 'the same deck twice is explained');
  await page.getByLabel('Heard').fill('0.01');
  await page.getByLabel('Uncertainty ±').fill('0.03');
  await accessible(page, 'a play');
  await picture(page, 'records-play');
  await page.click('button:has-text("Keep the play")');
  check(await says(page, 'See the picture'), 'and kept all the same');
  await page.getByLabel('Tape').selectOption('Tone 1');
  check(await says(page, 'Attic (the tape’s record says so)'), 'a tape knows its deck');
  await page.close();
}

async function trusting(open, address) {
  const page = await open(new URL('#/trust', address).href);
  check(await says(page, 'Some measurements contradict each other'), 'a contradiction is said first');
  check(await says(page, 'Play 5 (recorded on Bench right, played on Attic'), 'with the suspect');
  check(!(await page.innerText('main')).includes('evenspool trust'), 'in words of the page');
  const svg = '.trust-picture svg[role=img]';
  await page.waitForSelector(`${svg} .node`);
  check((await page.getAttribute(svg, 'aria-label')).startsWith('Picture of trust: 5 decks, '),
    'the picture says what it is');
  check(await page.$$eval(`${svg} .node`, (nodes) => nodes.length) === 5, 'every deck stands in it');
  check(await page.$$eval(`${svg} .ground`, (marks) => marks.length) === 1, 'an anchor is a ground');
  check(await shows(page, `${svg} .doubt`, 'disagrees'), 'the suspect has a word');
  const widths = await page.$$eval(`${svg} path.tie`, (ties) => ties.map((tie) =>
    [getComputedStyle(tie).strokeWidth, getComputedStyle(tie).strokeDasharray].join(' ')));
  check(new Set(widths).size > 1, `how sure is told by the line itself: ${widths.join('; ')}`);
  const places = () => page.$$eval(`${svg} .node rect`, (all) => all.map((rect) =>
    `${rect.getAttribute('x')},${rect.getAttribute('y')}`).join(' '));
  const before = await places();
  await page.reload();
  await page.waitForSelector(`${svg} .node`);
  check(await places() === before, 'the same records give the same picture');
  const overlap = await page.$$eval(`${svg} .node rect`, (all) => all.some((a, i) =>
    all.slice(i + 1).some((b) => {
      const [p, q] = [a.getBoundingClientRect(), b.getBoundingClientRect()];
      return p.left < q.right && q.left < p.right && p.top < q.bottom && q.top < p.bottom;
    })));
  check(!overlap, 'no deck covers another');
  check(await shows(page, '.next', 'timed tape length'), 'what to do next is said');
  check(await shows(page, '.next', /±\s0\.\d\d\s%/), 'with what it would bring');
  check(await shows(page, '.links', 'same deck: tests drift'), 'all ties are in a table');
  check(await shows(page, '.links', 'Attic until 4 Mar 2024'),
    'and those of a deck before it was adjusted say so');
  await page.getByLabel('Show it without what disagrees most').check();
  check(await says(page, 'agrees, with 1 measurement left out'), 'the suspect can be left out');
  check(await page.evaluate(() => document.activeElement.matches('[type=checkbox]')),
    'without the focus being lost');
  check(await shows(page, '.sentences',
    /Attic runs 0\.40\s% fast, sure to 0\.\d\d\s%: tied to timed tape length on 3 May 2024/),
    'a deck has its sentence');
  check(await shows(page, '.sentences',
    /Grey portable is not tied to true speed; .* Red recorder by 1 play\. Measure next: timed/),
    'one that is not tied is told what to do');
  await picture(page, 'records-trust-without');
  await page.getByLabel('Show it without what disagrees most').uncheck();
  await says(page, 'Some measurements contradict each other');
  await page.locator('.disagree button:has-text("Remove play 5")').click();
  await page.click('text=Yes, remove');
  check(await says(page, 'What was measured more than once agrees'), 'or be removed');
  await page.close();
}

async function withTheCoach(open, address) {
  const page = await open(address);
  await page.waitForFunction(() => document.querySelector('select')?.options.length > 0);
  await page.getByLabel('Deck on the bench').selectOption('Bench right');
  await page.locator('label', { hasText: /^Tape/ }).locator('select').selectOption('Tone 1');
  await page.waitForFunction(() => [...document.querySelectorAll('label')].some((label) =>
    label.innerText.startsWith('Error') && label.querySelector('input').value === '0.4'));
  check(true, 'a tape brings its certificate');
  check(await says(page, 'recorded on Attic, which was tied to timed tape length on 3 May 2024'),
    'and says whence');
  await accessible(page, 'choosing with the records');
  await picture(page, 'records-choose');
  await page.getByLabel('Error').fill('0.5');
  check(await says(page, 'changed by hand'), 'what is changed by hand is said to be');
  await page.locator('label', { hasText: /^Tape/ }).locator('select').selectOption('');
  await page.locator('label', { hasText: /^Tape/ }).locator('select').selectOption('Tone 1');
  await page.click('button.main');
  await page.waitForSelector('[data-testid=error]');
  check(await says(page, 'The tape’s own +0.40 %'), 'the certificate is taken off');
  await page.click('nav >> text=Decks');
  check(await says(page, 'Coach (listening)'), 'elsewhere it is said that the coach listens');
  await page.click('nav >> text=Coach');
  await page.waitForSelector('.cautions input');
  check(true, 'the cautions are still there');
  await page.check('.cautions input');
  await page.click('.cautions button');
  await page.getByLabel('90 degrees clockwise', { exact: true }).click();
  await page.waitForFunction(() => document.querySelector('table')?.innerText.includes('%'));
  await page.waitForSelector('[data-testid=error]');
  await page.click('text=Stop listening');
  await page.waitForSelector('.keep');
  await page.waitForFunction(() => document.querySelector('.keep select')?.value === 'Bench right');
  check(true, 'the deck is remembered');
  check(await says(page, 'This was the rehearsal deck'), 'practice is called practice');
  await page.getByLabel('What it came for').fill('too slow');
  await accessible(page, 'keeping a job');
  await picture(page, 'records-keep');
  await page.click('text=Keep as found, nudges and as left');
  check(await says(page, 'Kept as job'), 'the job is kept');
  await page.waitForFunction(() => fetch('/api/bench').then((answer) => answer.json())
    .then((facts) => facts.kept !== null));
  await page.click('.kept a');
  await heading(page, 'Bench right');
  check(await says(page, 'On the bench: too slow'), 'and stands in the history');
  const steps = await page.innerText('.steps');
  check(/as found\s−3\.00\s%.*nudges\s1 \(.*as left\s−2\.25\s%/s.test(steps), `from found to left: ${steps}`);
  check(await says(page, 'trimmed with the coach, 1 turn'), 'what was turned is a new unknown');
  await page.waitForSelector('svg.epochs');
  check(await page.$$eval('svg.epochs .error-bar', (bars) => bars.length) === 1,
    'the chart shows what was known, and nothing for what is not');
  await page.click('nav >> text=Coach');
  check(await says(page, 'Kept as job'), 'a second look knows that it was kept');
  await page.waitForSelector('.summary dl');
  await page.click('text=Choose something else');
  await says(page, 'What shall be listened to?');
  await page.close();
}

// A job with another screw: in its own unit, and the deck's speed is what it was.
async function withAnotherScrew(open, address) {
  const page = await open(address);
  await page.getByLabel('Azimuth of the head').check();
  await page.waitForFunction(() => document.querySelector('select')?.options.length > 0);
  await page.click('button.main');
  await page.waitForSelector('[data-testid=error]');
  await page.waitForSelector('.cautions input');
  await page.check('.cautions input');
  await page.click('.cautions button');
  await page.getByLabel('90 degrees clockwise', { exact: true }).click();
  await page.waitForFunction(() => document.querySelector('table')?.innerText.includes('µs'));
  await page.waitForSelector('[data-testid=error]');
  await page.click('text=Stop listening');
  await page.waitForSelector('.keep');
  check(await says(page, 'This was the rehearsal deck'), 'practice with a head is called practice too');
  await page.waitForFunction(() => document.querySelector('.keep select')?.options.length > 1);
  await page.locator('.keep select').selectOption('Grey portable');
  await page.getByLabel('What it came for').fill('dull treble');
  await page.click('text=Keep as found, nudges and as left');
  check(await says(page, 'Kept as job'), 'the job with the azimuth is kept');
  await page.click('.kept a');
  await heading(page, 'Grey portable');
  check(await says(page, 'On the bench, azimuth of the head: dull treble'),
    'and stands in the history with what was adjusted');
  check(await shows(page, '.steps',
    /as found\s−3\.0\sµs.*nudges\s1 \(\+0\.\d µs\).*as left\s−2\.\d\sµs/s), 'in microseconds');
  check(!(await page.innerText('.timeline')).includes('trimmed with the coach'),
    'and its speed is no new unknown');
  await accessible(page, 'a job with the azimuth');
  await picture(page, 'records-azimuth');
  await page.click('nav >> text=Decks');
  check(await says(page, 'azimuth of the head: found −3.0'), 'the list of decks tells it as the last job');
  await page.click('nav >> text=Coach');
  await page.waitForSelector('.summary dl');
  await page.click('text=Choose something else');
  await says(page, 'What shall be listened to?');
  await page.close();
}

async function everyPlace(open, address) {
  const places = [['decks', '#/decks', '.speed-bar'], ['deck', '#/decks/Attic', 'svg.epochs'],
    ['deck-form', '#/decks/Attic/edit', 'textarea'], ['trust', '#/trust', '.node'],
    ['tapes', '#/tapes', '.card'], ['tape', '#/tapes/Tone%201', 'textarea']];
  for (const [look, how] of LOOKS) {
    for (const [name, hash, there] of places) {
      const page = await open(new URL(hash, address).href, how);
      await page.waitForSelector(there);
      await accessible(page, `${name}, ${look}`);
      await fits(page, `${name}, ${look}`);
      await picture(page, `records-${name}-${look}`);
      await page.close();
    }
  }
}

async function refusals(open, address) {
  const page = await open(new URL('#/new-deck', address).href);
  await page.getByLabel('Name').fill('Attic');
  await page.click('button:has-text("Add the deck")');
  check(await shows(page, 'form [role=alert]', 'Attic'), 'a name twice is told in words');
  await accessible(page, 'a refused deck');
  await page.goto(new URL('#/decks/Nobody', address).href);
  check(await says(page, 'There is no deck "Nobody"'), 'a deck that is not there is told');
  check(!(await page.innerText('main')).includes('evenspool deck list'), 'in words of the page');
  await page.close();
}

test(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'evenspool-records-'));
  const server = await startServer('--records', join(folder, 'records.db'));
  await withBrowser(async ({ open, complaints }) => {
    await nothingYet(open, server.address);
    await fill(sender(server.address));
    await finding(open, server.address);
    await byKeyboardAlone(open, server.address);
    await everyPlace(open, server.address);
    await playing(open, server.address);
    await trusting(open, server.address);
    await tying(open, server.address);
    await withTheCoach(open, server.address);
    await withAnotherScrew(open, server.address);
    check(complaints.length === 0, `the browser has nothing to complain of: ${complaints.join('; ')
      || 'nothing'}`);
  });
  await withBrowser(async ({ open }) => refusals(open, server.address));
  check(await server.end() === 0, 'the server ends cleanly');
  rmSync(folder, { recursive: true, force: true });
});
