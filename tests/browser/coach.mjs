// A hand that knows only the words of the page coaches the rehearsal deck to "done" by clicking.
//   node coach.mjs MODULES-FOLDER SERVER-PROGRAM PICTURES-FOLDER
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { accessible, check, fits, PATIENCE_MS, PHONE, picture, shows, startServer, test, WIDE,
  withBrowser } from './browser.mjs';

const FIRST_TURN = 15;  // degrees: "a little either way"
const MOVES_MOST = 25;

// The shares that the coach speaks of, in the hand's own understanding of English.
const SHARES = { 'a fortieth of': 1 / 40, 'a thirtieth of': 1 / 30, 'a twentieth of': 1 / 20,
  'a fifteenth of': 1 / 15, 'a twelfth of': 1 / 12, 'a tenth of': 1 / 10, 'an eighth of': 1 / 8, 'a sixth of': 1 / 6, 'a fifth of': 1 / 5,
  'a quarter of': 1 / 4, 'a third of': 1 / 3, 'two fifths of': 2 / 5, 'half of': 1 / 2,
  'three fifths of': 3 / 5, 'two thirds of': 2 / 3, 'three quarters of': 3 / 4,
  'a little less than': 7 / 8, 'as much as': 1, 'a quarter more than': 1.25,
  'one and a half times': 1.5, 'one and three quarter times': 1.75, twice: 2,
  'two and a half times': 2.5, 'three times': 3, 'three and a half times': 3.5, 'four times': 4,
  'five times': 5, 'six times': 6, 'seven times': 7, 'eight times': 8, 'nine times': 9,
  'ten times': 10 };

// The longest phrase that stands in the sentence: "a little less than" before "a".
function shareIn(sentence) {
  const phrase = Object.keys(SHARES).filter((words) => sentence.includes(words))
    .sort((a, b) => b.length - a.length)[0];
  return phrase && SHARES[phrase];
}

// The next turn [degrees, + clockwise] that the sentence asks for; null: none.
function nextTurn(sentence, hand) {
  if (/turn on a little more/.test(sentence)) return Math.sign(hand.last) * 5;
  if (/turn .*a little either way/.test(sentence)) return FIRST_TURN;
  if (/as much again/.test(sentence)) return hand.last;
  const share = shareIn(sentence);
  if (share === undefined || !/turn, the (same|other) way/.test(sentence)) return null;
  const way = /the other way/.test(sentence) ? -1 : 1;
  const of = /very first/.test(sentence) ? Math.abs(hand.first) : Math.abs(hand.last);
  return way * Math.sign(hand.last) * of * share;
}

// Clicks the buttons that come nearest; returns what was turned.
async function turn(page, degrees) {
  const way = degrees < 0 ? 'anticlockwise' : 'clockwise';
  let left = Math.max(Math.round(Math.abs(degrees) / 2) * 2, 2);
  const turned = left;
  for (const step of [90, 15, 2]) {
    // 15 leaves an odd rest: made up of twos as well as can be
    for (; left >= step; left -= step)
      await page.getByLabel(`${step} degrees ${way}`, { exact: true }).click();
  }
  return Math.sign(degrees) * (turned - left);
}

// Waits until the coach has something to say to the hand, or is done; the sentence.
async function listenToCoach(page, before) {
  const deadline = Date.now() + PATIENCE_MS;
  let sentence = '';
  let since = Date.now();
  while (Date.now() < deadline) {
    const now = await page.evaluate(() => ({
      advice: document.querySelector('.advice').textContent,
      state: document.querySelector('.hero').className,
      word: document.querySelector('.side strong')?.textContent }));
    if (now.word === 'Done') return 'Done';
    if (now.advice !== sentence) {
      sentence = now.advice;
      since = Date.now();
    }
    const stands = Date.now() - since > 400;
    if (stands && /reading|look-first/.test(now.state) && sentence !== before.sentence) return sentence;
    if (stands && /reading/.test(now.state) && Date.now() - before.at > 6000) return sentence;
    await page.waitForTimeout(50);
  }
  return sentence;
}

// What is chosen, what it must be found as, how near it must be left, and what the sheet shows.
const DECKS = {
  speed: { deck: 'touchy-trimmer', found: /^\+2\.[5-7]/, tolerance: 0.1 },
  azimuth: { choice: 'Azimuth of the head', deck: 'leaning-head', found: /^\+50\.\d/, tolerance: 5 },
  balance: { choice: 'Balance of the channels', deck: 'uneven-levels', found: /^\u22122\.[12]\d/,
    tolerance: 0.5 },
};

async function begin(page, { choice, deck, found }) {
  if (choice) await page.getByLabel(choice).check();
  await page.getByLabel('Which imaginary deck').selectOption(deck);
  await page.click('button.main');
  await page.waitForSelector('[data-testid=error]');
  const text = await page.innerText('[data-testid=error]');
  check(found.test(text), `the deck is found as it was made: ${text}`);
}

// Until the coach says "done"; returns the number of looks at its advice.
async function follow(page, name) {
  const hand = { first: null, last: FIRST_TURN };
  let before = { sentence: '', at: Date.now() };
  let moves = 0;
  for (; moves < MOVES_MOST; moves += 1) {
    const sentence = await listenToCoach(page, before);
    if (sentence === 'Done') break;
    const degrees = nextTurn(sentence, hand);
    console.log(`# ${sentence} -> ${degrees === null ? 'waits' : `${degrees.toFixed(1)} degrees`}`);
    before = { sentence, at: Date.now() };
    if (degrees === null) continue;
    hand.last = await turn(page, degrees);
    if (hand.first === null) {
      hand.first = hand.last;
      await picture(page, `first-turn-${name}`);
    }
    before.at = Date.now();
  }
  return moves;
}

async function coach(page, name, what = 'speed') {
  const { tolerance } = DECKS[what];
  await begin(page, DECKS[what]);
  if (what === 'azimuth') await cautionsForHeads(page);
  await page.check('.cautions input');
  await page.click('.cautions button');
  const moves = await follow(page, name);
  check(moves < MOVES_MOST, `done after ${moves} looks at the advice`);
  const left = parseFloat((await page.innerText('[data-testid=error]')).replace('\u2212', '-'));
  check(Math.abs(left) <= tolerance, `the deck is left within the tolerance: ${left}`);
  await page.evaluate(() => scrollTo(0, 0));
  await accessible(page, `the coached deck, ${name}`);
  await fits(page, `the coached deck, ${name}`);
  await picture(page, `coached-${name}`);
  if (what !== 'speed') await bothChannels(page, what);
  await page.click('text=Stop listening');
  await page.waitForSelector('.summary dl');
  check(await shows(page, '.summary', 'final reading'), 'the final reading is in the summary');
  await picture(page, `summary-${name}`);
  await page.click('text=Choose something else');
  await page.waitForSelector('text=What shall be listened to?');
  await page.close(); // a browser allows few streams to one server
}

// What stands beside the figure, in words as well as drawn.
async function bothChannels(page, what) {
  const sheet = page.locator('.pair');
  check(await sheet.getByRole('img', { name: /Figure of left against right/ }).isVisible(),
    'the X-Y figure is there, and told');
  const drawn = await sheet.locator('canvas').evaluate((at) => at.getContext('2d')
    .getImageData(0, 0, at.width, at.height).data.some((value) => value > 0));
  check(drawn, 'and drawn');
  check(await shows(page, '.pair', 'dBFS'), 'both levels stand there as numbers');
  if (what !== 'azimuth') return;
  const phase = await sheet.getByRole('img', { name: /Phase of right/ }).getAttribute('aria-label');
  check(/degrees at 1 kilohertz/.test(phase), `the phase is told: ${phase}`);
  check(await shows(page, '.pair', 'minutes of arc'), 'and the tilt of the head');
  check(await shows(page, '.pair', 'settled'), 'broadband sound settles the whole turns');
}

async function cautionsForHeads(page) {
  const rules = await page.innerText('.cautions');
  for (const words of ['azimuth screw', 'mains voltage', 'magnetised', 'Note where', 'seal it'])
    check(rules.includes(words), `the cautions for heads speak of "${words}"`);
  check(await page.getByLabel('Reference tone').count() === 0, 'there is no reference tone for heads');
  await accessible(page, 'azimuth, before the first turn');
  await picture(page, 'azimuth-cautions');
}

async function addDeck(page, name, transport) {
  const status = await page.evaluate(async (form) => (await fetch('/api/decks/add', { method: 'POST',
    headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(form) })).status,
  { name, transport });
  check(status === 200, `the records know ${name} now`);
  await page.close();
}

// The angle whose tangent is the way that the tape goes in the delay, over the distance of the tracks: two
// half tracks on 6.3 mm tape are 4.2 mm apart, a cassette's 0.9 mm (common practice, no source).
const MACHINES = { 'reel-19': [0.1905, 4.2e-3], 'reel-9.5': [0.09525, 4.2e-3], cassette: [0.047625, 0.9e-3] };

function arcMinutes(delayUs, machine) {
  const [speed, spacing] = MACHINES[machine];
  return Math.atan(delayUs * 1e-6 * speed / spacing) * 60 * 180 / Math.PI;
}

// The class of machine is the chosen deck's, unless another is chosen; the tilt that is shown is for it.
async function machines(open, address) {
  for (const [machine, chosen] of [['reel-9.5', ''], ['reel-19', 'reel-19'], ['cassette', 'cassette']]) {
    const page = await open(address, { size: PHONE });
    await page.getByLabel('Azimuth of the head').check();
    await page.getByLabel('Deck on the bench').selectOption('');
    await page.getByLabel('Deck on the bench').selectOption('Spool');
    await page.waitForFunction(() => [...document.querySelectorAll('select')]
      .some((one) => one.value === 'reel-9.5'));
    const classes = page.getByLabel('Class of machine');
    if (chosen) await classes.selectOption(chosen);
    check(await classes.inputValue() === machine, `the class is ${machine}`);
    if (!chosen) {
      await accessible(page, 'choosing the machine, on a phone');
      await fits(page, 'choosing the machine, on a phone');
      await picture(page, 'azimuth-machine-phone');
    }
    await page.getByLabel('Which imaginary deck').selectOption('leaning-head');
    await page.click('button.main');
    await page.waitForSelector('[data-testid=error]');
    const words = machine.replace('reel-', 'reel, ');
    check(await shows(page, '.pair dd', words), `the tilt says for which machine: ${words}`);
    const [delay, tilt] = await page.evaluate(() => [document.querySelector('[data-testid=error]'),
      [...document.querySelectorAll('.pair dd')].find((at) => /minutes of arc/.test(at.textContent))]
      .map((at) => parseFloat(at.textContent.replace('\u2212', '-'))));
    check(Math.abs(tilt - arcMinutes(delay, machine)) < 0.3,
      `${delay} us are ${arcMinutes(delay, machine).toFixed(1)} minutes of arc on ${machine}: ${tilt}`);
    if (!chosen) {
      await fits(page, 'the tilt of a reel machine, on a phone');
      await picture(page, 'azimuth-reel-phone');
    }
    await page.click('text=Stop listening');
    await page.waitForSelector('.summary dl');
    await page.click('text=Choose something else');
    await page.waitForSelector('text=What shall be listened to?');
    await page.close();
  }
}

test(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'evenspool-coach-'));
  const server = await startServer('--records', join(folder, 'records.db'));
  await withBrowser(async ({ open, complaints }) => {
    await coach(await open(server.address, { size: WIDE }), 'wide');
    await coach(await open(server.address, { size: PHONE, dark: true }), 'phone');
    await coach(await open(server.address, { size: WIDE }), 'azimuth', 'azimuth');
    await coach(await open(server.address, { size: PHONE, dark: true }), 'azimuth-phone', 'azimuth');
    await coach(await open(server.address, { size: WIDE }), 'balance', 'balance');
    await addDeck(await open(server.address), 'Spool', 'reel-9.5');
    await machines(open, server.address);
    check(complaints.length === 0, `the browser has nothing to complain of: ${complaints.join('; ')
      || 'nothing'}`);
  });
  await server.end();
  rmSync(folder, { recursive: true, force: true });
});
