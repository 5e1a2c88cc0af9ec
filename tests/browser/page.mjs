// The page over a scripted session: what it shows, in which words and shapes, to whom.
//   node page.mjs MODULES-FOLDER SERVER-PROGRAM PICTURES-FOLDER
import { accessible, check, fits, PHONE, picture, says, shows, startServer, test, WIDE,
  withBrowser } from './browser.mjs';

const MM_PER_PX = 25.4 / 96; // a CSS pixel on a desk's screen
const CAPITAL = 0.7;         // height of a capital or digit, part of the type's size
const ARC_MINUTE = Math.PI / 180 / 60;

// Angle under which the capitals of this text are seen from two metres [minutes of arc].
async function seenFromTwoMetres(page, selector) {
  const size = await page.$eval(selector, (at) => parseFloat(getComputedStyle(at).fontSize));
  return (size * CAPITAL * MM_PER_PX) / 2000 / ARC_MINUTE;
}

const reading = (page) => page.waitForSelector('[data-testid=error]');

async function readCautions(page) {
  await page.check('.cautions input');
  await page.click('.cautions button');
}

async function turn(page, label, times) {
  for (let i = 0; i < times; i += 1) await page.getByLabel(label, { exact: true }).click();
}

async function listen(page, source) {
  await page.evaluate((what) => fetch('/api/session', { method: 'POST',
    headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ source: what }) }),
  source);
}

async function choosing(open, address) {
  for (const [name, look] of [['light', {}], ['dark', { dark: true }],
    ['phone', { size: PHONE }], ['phone-dark', { size: PHONE, dark: true }]]) {
    const page = await open(address, look);
    await says(page, 'Which imaginary deck');
    await page.waitForSelector('button.main:not([disabled])');
    await accessible(page, `choosing, ${name}`);
    await fits(page, `choosing, ${name}`);
    await picture(page, `choose-${name}`);
    await page.close();
  }
}

async function wrongChoices(open, address) {
  const page = await open(address);
  await page.getByLabel('A deck on a live input').check();
  await page.waitForFunction(() => document.querySelector('select')?.options.length === 2);
  await page.click('button.main');
  check(await says(page, 'There is no input of that name'), 'an input that fails is told in words');
  await page.getByLabel('The rehearsal deck').check();
  await page.getByLabel('Error').fill('a lot');
  await page.click('button.main');
  check(await says(page, 'is not a number'), 'a number that is none is told in words');
  await accessible(page, 'a refused choice');
  await page.close();
}

async function byKeyboardAlone(open, address) {
  const page = await open(address);
  await page.waitForSelector('button.main:not([disabled])');
  for (let i = 0; i < 40; i += 1) {
    await page.keyboard.press('Tab');
    if (await page.evaluate(() => document.activeElement.matches('button.main'))) break;
  }
  const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineWidth);
  check(outline === '3px', 'the focus can be seen');
  await page.keyboard.press('Enter');
  await reading(page);
  check(true, 'the keyboard alone starts a session');
  await page.click('text=Stop listening');
  await page.waitForSelector('.summary dl'); // or the record is asked for when it is gone
  await page.click('text=Choose something else');
  await says(page, 'What shall be listened to?');
  await page.close();
}

async function coaching(open, address) {
  const page = await open(address);
  await page.getByLabel('Error').fill('0,4');
  await page.getByLabel('Uncertainty ±').fill('0.05');
  await page.click('button.main');
  await reading(page);
  check(await page.innerText('[data-testid=error]') === '\u22123.00 %', 'the figure is shown');
  check(await page.innerText('.side strong') === 'SLOW', 'the side is a word');
  check(await page.isVisible('.wedge.slow.shown') && !await page.isVisible('.wedge.fast.shown'),
    'and a shape on its side');
  await page.waitForFunction(() => document.title.startsWith('\u22123.00 % slow'));
  check(true, 'the title tells it too');
  check(await says(page, 'The tape’s own +0.40 % ± 0.05 % is taken off'),
    'the certificate is said to be taken off');
  check(await seenFromTwoMetres(page, '.number') > 40,
    'the figure is twice what ISO 9241-303 wants at two metres (22 minutes of arc, from memory)');
  for (const what of ['.side', '.advice'])
    check(await seenFromTwoMetres(page, what) > 16,
      `${what} is more than its least (16 minutes of arc, from memory)`);

  check(!await page.isVisible('.knob'), 'nothing can be turned before the cautions are read');
  check((await page.innerText('.advice')).includes('cautions'), 'nor is a turn asked for');
  check(await page.isDisabled('.cautions button'), 'they must be ticked');
  await accessible(page, 'the cautions');
  await picture(page, 'cautions');
  await readCautions(page);
  await page.waitForSelector('.knob');
  check(!await page.isVisible('.cautions'), 'then one can turn');
  check(await page.isVisible('.at-hand'), 'and the cautions stay at hand');
  await page.click('.at-hand summary');
  check(await says(page, 'The rules where you live come first'), 'with all their words');
  await page.click('.at-hand summary');

  const turning = says(page, 'Turning'); // both may be over before the last click has come back
  const moving = page.waitForSelector('.scale .moving').then(() => true, () => false);
  await turn(page, '90 degrees clockwise', 5);
  check(await turning, 'a turning hand is no figure');
  check(await moving, 'but moves a mark');
  await page.waitForSelector('.wedge.fast.shown');
  check(await page.innerText('.side strong') === 'FAST', 'too far is fast');
  await accessible(page, 'coaching');
  await picture(page, 'coach-light');
  await page.waitForFunction(() => document.querySelector('[data-testid=said]')?.textContent
    ?.startsWith('Too fast'));
  check(true, 'what to do next is read out');
  await page.emulateMedia({ colorScheme: 'dark' });
  await accessible(page, 'coaching in the dark');
  await picture(page, 'coach-dark');
  await page.emulateMedia({ colorScheme: 'light' });

  await page.focus('.slot');
  for (let i = 0; i < 6; i += 1) await page.keyboard.press('PageDown');
  await page.waitForSelector('.hero.there');
  check(/^(There|Done)$/.test(await page.innerText('.side strong'))
    && await page.isVisible('.side .mark'), 'there is a word and a mark');
  check(await shows(page, 'table', '0.75 % slower'), 'the nudges are in a table');
  await page.waitForFunction(() => document.querySelector('.side strong')?.innerText === 'Done');
  await accessible(page, 'there');
  await picture(page, 'there');
  return page;
}

async function onAPhone(open, address) {
  for (const dark of [false, true]) {
    const page = await open(address, { size: PHONE, dark });
    await reading(page);
    await readCautions(page);
    await fits(page, 'the coach on a phone');
    await accessible(page, 'the coach on a phone');
    await picture(page, dark ? 'phone-dark' : 'phone-light');
    await page.locator('.course').scrollIntoViewIfNeeded();
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    check(await page.waitForSelector('.strip').then(() => true), 'the figure stays in sight');
    await page.close();
  }
}

async function byEar(page) {
  check(await page.getByLabel('Silent').isChecked(), 'the sound is off until chosen');
  await page.getByLabel('Guide').check();
  check(await says(page, 'Ticks slow down towards the target'), 'the guide explains itself');
  await page.waitForFunction(() => fetch('/api/bench').then((answer) => answer.json())
    .then((facts) => facts.live?.sound === 'guide'));
  await page.getByLabel('Silent').check();
}

// What the trace of the last two minutes spans [%], as it is told; the script's ripple is 0.12 wide.
async function spanOfTrace(page) {
  const [low, high] = (await page.getAttribute('.chart', 'aria-label')).replaceAll('\u2212', '-')
    .match(/between (.*) and (.*) percent/).slice(1).map(parseFloat);
  return high - low;
}

async function theStreamBreaks(server, page) {
  await turn(page, '90 degrees clockwise', 2); // a step of 1.5 %
  await page.waitForSelector('.wedge.fast.shown');
  check(await spanOfTrace(page) > 1, 'a turn is in the trace');
  server.pause();
  check(await says(page, 'The bench does not answer'), 'a silent server is noticed');
  check(!await page.isVisible('[data-testid=error]'), 'and no old figure is left standing');
  await picture(page, 'no-answer');
  server.goOn();
  await reading(page);
  await page.waitForSelector('.banner', { state: 'hidden' });
  check(true, 'the page comes back by itself');
  check(await spanOfTrace(page) > 1, 'with its trace');
}

async function hiddenTabs(open, address) {
  const page = await open('about:blank');
  await page.addInitScript(() => {
    const Real = window.EventSource;
    window.streams = 0;
    window.EventSource = class extends Real {
      constructor(...args) { super(...args); window.streams += 1; }
      close() { super.close(); window.streams -= 1; }
    };
  });
  await page.goto(address);
  await page.waitForFunction(() => window.streams === 1);
  const hide = (hidden) => page.evaluate((yes) => {
    Object.defineProperty(document, 'hidden', { configurable: true, get: () => yes });
    document.dispatchEvent(new Event('visibilitychange'));
  }, hidden);
  await hide(true);
  check(await page.evaluate(() => window.streams) === 0, 'a hidden tab gives its stream back');
  await page.waitForTimeout(700);
  check(await page.evaluate(() => window.streams) === 0, 'and does not take another');
  await hide(false);
  await page.waitForFunction(() => window.streams === 1);
  check(true, 'until it is seen again');
  await page.close();
}

async function otherStates(open, address) {
  const page = await open(address, { calm: true });
  await listen(page, 'rehearse:stuck');
  check(await says(page, 'Stop: look first'), 'what can’t be set says stop');
  check(await page.isVisible('.stop'), 'with a shape');
  await accessible(page, 'stop');
  await picture(page, 'stop');
  await listen(page, 'device:gone');
  check(await says(page, 'Input is gone'), 'a lost input is told');
  check(await says(page, 'plug it in again'), 'with what to do');
  await picture(page, 'input-gone');
  await reading(page);
  const moves = await page.$eval('.pointer', (at) => getComputedStyle(at).transitionDuration);
  check(moves === '0s', 'nothing glides for who wants calm');
  await listen(page, 'file:short');
  check(await says(page, 'The session is over'), 'the end is told, with what it came to');
  await accessible(page, 'the end');
  await picture(page, 'over');
  await page.close();
}

async function pairing(open) {
  const server = await startServer('--lan');
  const page = await open(server.address, { size: WIDE });
  await page.click('.phone summary');
  check(await page.waitForSelector('.pairing img').then(() => true), 'the pairing code is shown');
  check(page.url().endsWith('/') && !page.url().includes('pair'), 'the key is not left in the address');
  await accessible(page, 'pairing');
  await picture(page, 'pairing');
  await page.close();
  await server.end();
}

test(async () => {
  const server = await startServer();
  await withBrowser(async ({ open, complaints }) => {
    await choosing(open, server.address);
    await hiddenTabs(open, server.address);
    await byKeyboardAlone(open, server.address);
    const page = await coaching(open, server.address);
    await onAPhone(open, server.address);
    await byEar(page);
    await theStreamBreaks(server, page);
    await page.close();
    await otherStates(open, server.address);
    check(complaints.length === 0, `the browser has nothing to complain of: ${complaints.join('; ')
      || 'nothing'}`);
    await listen(await open(server.address), 'file:short');
    await pairing(open);
  });
  check(await server.end() === 0, 'the server ends cleanly');
  const clean = await startServer();
  await withBrowser(async ({ open }) => wrongChoices(open, clean.address));
  await clean.end();
});
