// A browser on the page, and what its tests look with. The arguments are those of drive.mjs.
import assert from "node:assert/strict";
import fs from "node:fs";
import path from "node:path";
import readline from "node:readline";
import { createRequire } from "node:module";

export const [packages, executablePath, base, token, ...chosen] = process.argv.slice(2);
export const { chromium } = createRequire(path.join(packages, "x.js"))("playwright-core");
export const axe = fs.readFileSync(path.join(packages, "axe-core/axe.min.js"), "utf8");
export const answers = readline.createInterface({ input: process.stdin })[Symbol.asyncIterator]();
export const patience = 15_000;

export async function ask(what) {
  console.log(`DO ${what}`);
  await answers.next();
}
export const cli = (...words) => ask(`cli ${JSON.stringify(words)}`);

export const browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"] });
export const faults = [];

/** A page of its own session; every fault that its console tells is a fault of the test, unless the daemon is away. */
export async function open({ width = 360, scheme = "light", signed = true } = {}) {
  const context = await browser.newContext({ viewport: { width, height: 740 }, colorScheme: scheme, hasTouch: width < 500 });
  if (signed) await context.addCookies([{ name: "ingle-token", value: token, url: base, httpOnly: true, sameSite: "Strict" }]);
  const page = await context.newPage();
  page.setDefaultTimeout(patience);
  page.on("pageerror", (error) => faults.push(`${error.stack}`));
  page.on("console", (line) => { if (line.type() === "error" && !/Failed to load resource|ERR_|net::/.test(line.text())) faults.push(line.text()); });
  return page;
}

export async function shown(options) {
  const page = await open(options);
  await page.goto(base);
  await page.waitForSelector(".vessel .number");
  return page;
}

export const vessel = (page, name) => page.locator(".vessel", { has: page.getByRole("heading", { name, exact: true }) });
export const dish = (page, name) => page.locator(".dish", { has: page.getByRole("heading", { name, exact: true }) });
export const told = (page, text) => page.locator("#told", { hasText: text }).waitFor();

/** Taps, counted: the usual tasks take three at most. */
export class Taps {
  count = 0;
  async on(locator) { this.count += 1; await locator.click(); }
  done(what) { assert.ok(this.count <= 3, `${what} took ${this.count} taps`); }
}

export const countTones = (page) => page.evaluate(() => { globalThis.tones = 0; const made = AudioContext.prototype.createOscillator; AudioContext.prototype.createOscillator = function () { globalThis.tones += 1; return made.call(this); }; });

export async function accessible(page, what) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
  assert.deepEqual(violations.map((v) => `${what}: ${v.id}: ${v.nodes.map((n) => `${n.target} ${n.any[0]?.message ?? ""}`).join("; ")}`), []);
}

/** Nothing on the page speaks of the terminal, nor of anything that is folded away. */
export async function withoutCommands(page) {
  const words = await page.evaluate(() => document.body.textContent);
  assert.doesNotMatch(words, /`|\bingle [a-z]|\s--[a-z]/);
}

/** What breaks within a number, a clock or a button of one word, on the page as it stands. */
export const broken = (page) => page.evaluate(() => [...document.querySelectorAll(".number, .left, #clock, button")].filter((e) => {
  if (!e.offsetParent && e.parentElement.id !== "bar" || e.textContent.includes(" ")) return false;
  const text = document.createRange();
  text.selectNodeContents(e);
  return new Set([...text.getClientRects()].map((r) => Math.round(r.top))).size > 1;
}).map((e) => e.textContent));

export const fits = (page) => page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth);
