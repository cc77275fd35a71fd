// The page's server with states of ours, and a browser to look at it.

import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { mkdirSync } from 'node:fs';
import { after } from 'node:test';
import { chromium } from 'playwright-core';

export const pictures = process.env.PICTURES ?? '/tmp/skimgauge-page';
mkdirSync(pictures, { recursive: true });

// What comes at all comes within this, however busy the machine is: the limit is for what hangs.
export const LONG_MS = 300_000;

export const BOARD = { width: 1920, height: 1200 };
export const PHONE = { width: 390, height: 844 };

// What a failed test left open.
export const left = new Set();
after(() => Promise.all([...left].map((close) => close())));

// A program that prints its addresses, then what it hears, a line each.
export class Served {
  static async start() {
    const served = new Served();
    served.child = spawn(process.env.SERVE, { stdio: ['pipe', 'pipe', 'inherit'] });
    left.add(() => served.child.kill('SIGKILL'));
    served.heard = [];
    const lines = createInterface({ input: served.child.stdout });
    const [first] = await once(lines, 'line');
    served.links = JSON.parse(first);
    lines.on('line', (line) => served.heard.push(JSON.parse(line)));
    return served;
  }

  show(mm, inch = mm) {
    this.child.stdin.write(`${JSON.stringify({ mm, inch })}\n`);
  }

  // What was said and sent, as it came.
  acts() {
    return this.heard.filter(({ act }) => act);
  }

  async stop() {
    this.child.stdin.end();
    await once(this.child, 'exit');
  }
}

export async function launch(args = []) {
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', ...args],
    timeout: LONG_MS,
  });
  left.add(() => browser.close());
  return browser;
}

// Of a browser, or of a context of it.
export async function pageOf(owner) {
  const page = await owner.newPage();
  page.setDefaultTimeout(LONG_MS);
  return page;
}

// Waits for what has to come; nothing is asserted of how long it takes.
export async function until(what, found) {
  const from = performance.now();
  for (;;) {
    const result = await found();
    if (result) return result;
    if (performance.now() - from > LONG_MS) throw new Error(`never came: ${what}`);
    await new Promise((done) => setTimeout(done, 50));
  }
}

// Until this state is drawn.
export function draws(page, number) {
  return until(`state ${number}`, () => page.evaluate((wanted) => document.documentElement.dataset.number === wanted, String(number)));
}

// Until a press means this state: it has stood there a moment.
export function means(page, number) {
  return until(`a press means ${number}`, () => page.evaluate((wanted) => document.documentElement.dataset.meant === wanted, String(number)));
}

// A browser whose window fills its screen, as it is on the board.
export async function fullScreen(url, { screen = BOARD, window = screen } = {}) {
  const browser = await launch([`--screen-info={${screen.width}x${screen.height}}`, '--hide-scrollbars']);
  const context = await browser.newContext({ viewport: null });
  const page = await pageOf(context);
  const cdp = await context.newCDPSession(page);
  const { windowId } = await cdp.send('Browser.getWindowForTarget');
  if (window === screen) {
    await cdp.send('Browser.setWindowBounds', { windowId, bounds: { windowState: 'fullscreen' } });
  } else {
    await cdp.send('Browser.setWindowBounds', { windowId, bounds: { ...window } });
  }
  await page.goto(url);
  return { browser, context, page, cdp, windowId };
}

export async function phone(url, options = {}) {
  const browser = await launch();
  const context = await browser.newContext({ viewport: PHONE, hasTouch: true, isMobile: true, deviceScaleFactor: 2, ...options });
  const page = await pageOf(context);
  await page.goto(url);
  return { browser, context, page };
}

// Until a press means what is drawn, whatever that is.
export function stands(page) {
  return until('a press means what is drawn', () => page.evaluate(() => {
    const { number, meant } = document.documentElement.dataset;
    return number !== undefined && number === meant;
  }));
}

// Waits until this stands there. A drawing breaks its lines where it likes: blanks do not count.
export function reads(page, selector, wanted) {
  const bare = (text) => text.replace(/\s+/g, '');
  return until(wanted, async () => bare(await page.locator(selector).textContent()).includes(bare(wanted)));
}
