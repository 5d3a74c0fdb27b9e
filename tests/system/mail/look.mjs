// Opens pages in a real browser as wide as a phone: how wide each is, what it says in its order, and a picture of it.
// Arguments: folder of the packages, browser, folder for the pictures, then addresses. One JSON line for each.
import path from "node:path";
import { createRequire } from "node:module";

const [packages, executablePath, folder, ...addresses] = process.argv.slice(2);
const { chromium } = createRequire(path.join(packages, "x.js"))("playwright-core");
const browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"] });
const context = await browser.newContext({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true });
for (const [number, address] of addresses.entries()) {
  const page = await context.newPage();
  await page.goto(address);
  const seen = await page.evaluate(() => ({
    width: Math.max(document.documentElement.scrollWidth, ...[...document.querySelectorAll("body *")].map((e) => Math.ceil(e.getBoundingClientRect().right))),
    text: document.body.innerText,
    smallest: Math.min(...[...document.querySelectorAll("p, a, button, li")].map((e) => Number.parseFloat(getComputedStyle(e).fontSize))),
    pictures: [...document.images].every((image) => image.complete && image.naturalWidth > 0),
  }));
  await page.screenshot({ path: path.join(folder, `seen-${number}.png`), fullPage: true });
  console.log(JSON.stringify(seen));
  await page.close();
}
await browser.close();
