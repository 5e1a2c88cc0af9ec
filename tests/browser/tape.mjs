// The test tape on the page, read from a file in real time by the real server: what is shown while it plays,
// and at the end.
//   node tape.mjs MODULES-FOLDER SERVER-PROGRAM PICTURES-FOLDER EVENSPOOL
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { accessible, check, fits, PATIENCE_MS, PHONE, picture, says, shows, startServer, test,
  withBrowser } from './browser.mjs';

const EVENSPOOL = resolve(process.argv[5]);

// What is right is this plan: names, and levels against -12 dB full scale.
const PROGRAMME = { schema: 'evenspool.programme/1', name: 'brief', about: 'For tests',
  transport: 'cassette', equalisation: '120', reference_nwb_m: 250, marker_db: -10,
  broad_low_hz: 200, broad_high_hz: 12500, side_most_s: 300,
  sides: [{ sections: [
    { kind: 'leader', name: 'leader', seconds: 5 },
    { kind: 'level', name: 'level', hz: 315, level_db: 0, seconds: 6 },
    { kind: 'azimuth-broadband', name: 'azimuth', level_db: -20, seconds: 25 },
    { kind: 'speed', name: 'speed', hz: 3150, level_db: -10, seconds: 5 },
    { kind: 'silence', name: 'silence', seconds: 2 },
    { kind: 'end', name: 'end' }] }] };

const rowOf = (page, name) => page.innerText(`.tape-sections li:has(.what:text-is("${name}"))`)
  .then((text) => text.replace(/\s+/g, ' '));

async function choosing(open, address) {
  for (const [name, look] of [['light', {}], ['phone-dark', { size: PHONE, dark: true }]]) {
    const page = await open(`${address}#/test-tape`, look);
    check(await says(page, 'Where is it heard?'), `the place is there, ${name}`);
    await page.getByLabel('Deck on the bench').selectOption('Attic');
    await page.getByRole('combobox', { name: 'Tape', exact: true }).selectOption('B1');
    check(await says(page, 'That is taken off every reading'), `the tape says what it is worth, ${name}`);
    await accessible(page, `choosing a test tape, ${name}`);
    await fits(page, `choosing a test tape, ${name}`);
    await picture(page, `tape-choose-${name}`);
    await page.close();
  }
}

async function refusing(open, address, folder) {
  const page = await open(`${address}#/test-tape`);
  await page.getByLabel('A capture in a file, in real time').check();
  await page.getByLabel('File on the bench’s computer').fill(join(folder, 'none.wav'));
  await page.click('button.main');
  check(await says(page, 'no such file'), 'a file that is not there is told in words');
  await page.getByLabel('Its error').fill('a lot');
  await page.click('button.main');
  check(await says(page, 'is not a number'), 'and so is a number that is none');
  await page.close();
}

async function reading(open, address, folder) {
  const page = await open(`${address}#/test-tape`);
  await page.getByLabel('A capture in a file, in real time').check();
  await page.getByLabel('File on the bench’s computer').fill(join(folder, 'side.wav'));
  await page.getByLabel('Programme of your own').fill(join(folder, 'brief.json'));
  await page.getByLabel('Reference should read').fill('-9');
  await page.getByLabel('Deck on the bench').selectOption('Attic');
  await page.getByRole('combobox', { name: 'Tape', exact: true }).selectOption('B1');
  await page.click('button.main');
  check(await says(page, 'Waiting for the first marker'), 'it waits for the first marker');
  check(await says(page, 'Hearing: level'), 'then says what is heard');
  check(await says(page, 'brief, side a'), 'and of which programme and side');
  check(await shows(page, '.tape-facts div', 'Deck' + 'Attic'), 'for which deck');
  check(await shows(page, '.tape-facts div', 'Tape' + 'B1'), 'from which tape');
  await page.waitForSelector('.tape-sections li.heard');
  const level = await rowOf(page, 'level');
  check(/✓ level heard level \u221212\.00 and \u221212\.00\u00a0?\s?dB full scale/.test(level)
    || /level -12\.00 and -12\.00 dB full scale/.test(level), `a section that is over is ticked off: ${level}`);
  check((await rowOf(page, 'silence')).includes('to come'), 'what is to come is said to be');
  await accessible(page, 'a tape that plays');
  await picture(page, 'tape-plays');
  return page;
}

async function elsewhere(open, address) {
  const page = await open(address);
  await page.waitForSelector('button.main');
  await page.click('button.main');
  check(await says(page, 'The test tape is being read; stop that first'),
    'the coach does not begin meanwhile');
  await page.close();
  const phone = await open(`${address}#/test-tape`, { size: PHONE });
  check(await says(phone, 'Hearing: azimuth'), 'who comes later sees where it stands');
  await fits(phone, 'a tape that plays, on a phone');
  await picture(phone, 'tape-plays-phone');
  await phone.close();
}

async function outcome(page) {
  check(await says(page, 'What to do', { timeout: 2 * PATIENCE_MS }), 'what to do stands there at the end');
  check(await says(page, 'The side is over.'), 'and why it ended');
  await page.waitForSelector('.verdicts li');
  const verdict = await page.innerText('.verdicts li:has(.what:text-is("level"))');
  check(/level:? *adjust/i.test(verdict.replace(/\s+/g, ' ')), `3 dB too low is to be adjusted: ${verdict}`);
  check(/azimuth:? *leave/i.test((await page.innerText('.verdicts li:has(.what:text-is("azimuth"))'))
    .replace(/\s+/g, ' ')), 'a delay of nothing is left alone');
  check((await rowOf(page, 'azimuth')).includes('right later by'), 'the delay was told');
  await page.click('.at-hand summary');
  check(await says(page, 'No magnetised tool near the head'), 'the cautions are at hand');
  check(await says(page, 'The rules where you live come first'), 'all of them');
  await accessible(page, 'what came of a tape');
  await picture(page, 'tape-over');
  await page.setViewportSize(PHONE);
  await page.emulateMedia({ colorScheme: 'dark' });
  await accessible(page, 'what came of a tape, on a phone in the dark');
  await fits(page, 'what came of a tape, on a phone');
  await picture(page, 'tape-over-phone');
}

// The certificate is B1's, 0.4 %, on a tape that was written true: so the deck is 0.4 % fast.
async function keeping(open, address, page) {
  check(await page.getByRole('combobox', { name: 'Deck', exact: true }).inputValue() === 'Attic',
    'it can be kept for the deck that was chosen at the start');
  await page.click('text=Keep it in the deck’s history');
  check(await shows(page, '[role=status]', 'Kept as reading 1 of Attic.'), 'it says when it is kept');
  check(await page.getByText('Keep it in the deck’s history').count() === 0, 'and offers that once');
  await accessible(page, 'a reading that is kept, on a phone in the dark');
  await fits(page, 'a reading that is kept, on a phone');
  await picture(page, 'tape-kept-phone');
  const other = await open(`${address}#/test-tape`);
  check(await shows(other, '[role=status]', 'Kept as reading 1 of Attic.'), 'another page knows it too');
  await picture(other, 'tape-kept');
  await other.close();
  await page.click('[role=status] >> text=Attic');
  check(await shows(page, '.timeline li', 'Measured: +0.40'), 'the deck’s history shows it');
  await fits(page, 'the history with a test tape, on a phone');
  await picture(page, 'tape-history-phone');
  await page.goBack();
  await page.click('text=Read another tape');
  check(await says(page, 'Where is it heard?'), 'and then another can be read');
}

async function coachFirst(open, address) {
  const page = await open(address);
  await page.waitForSelector('button.main');
  await page.click('button.main');
  await page.waitForSelector('[data-testid=error]');
  await page.click('nav >> text=Test tape');
  check(await says(page, 'The coach is listening'), 'while the coach listens, it says so');
  check(await page.isDisabled('button.main'), 'and does not begin');
  await accessible(page, 'a test tape while the coach listens');
  await page.getByLabel('A capture in a file, in real time').check();
  await page.click('text=Stop the coach');
  await page.waitForFunction(() => document.querySelector('button.main')?.disabled === false);
  check(true, 'once the coach has stopped it can');
  await page.close();
}

test(async () => {
  const folder = mkdtempSync(join(tmpdir(), 'evenspool-tape-'));
  writeFileSync(join(folder, 'brief.json'), JSON.stringify(PROGRAMME));
  execFileSync(EVENSPOOL, ['tape', 'write', '--programme', join(folder, 'brief.json'), '-o',
    join(folder, 'side.wav')], { stdio: 'ignore' });
  const records = join(folder, 'records.db');
  for (const words of [['deck', 'add', 'Attic'], ['trust', 'tape', 'B1', '--stated', '0.4', '--u95', '0.15']])
    execFileSync(EVENSPOOL, [...words, '--records', records], { stdio: 'ignore' });
  const server = await startServer('--records', records);
  try {
    await withBrowser(async ({ open, complaints }) => {
      await choosing(open, server.address);
      await refusing(open, server.address, folder);
      complaints.length = 0; // the refusals themselves
      const page = await reading(open, server.address, folder);
      await elsewhere(open, server.address);
      complaints.length = 0;
      await outcome(page);
      await keeping(open, server.address, page);
      await coachFirst(open, server.address);
      check(complaints.length === 0, `the page complains of nothing: ${complaints.join('; ')}`);
    });
  } finally {
    await server.end();
    rmSync(folder, { recursive: true, force: true });
  }
});
