// Takes pictures of the page, those of daemon/page/pictures among them, from a daemon on the demo's kitchen with
// goose-roll, boar-shoulder and trout begun some minutes before. Arguments, as whole paths: folder of the packages, browser, address, folder for the pictures.
import path from "node:path";
import { createRequire } from "node:module";

const [packages, executablePath, base, out] = process.argv.slice(2);
const { chromium } = createRequire(path.join(packages, "x.js"))("playwright-core");
const browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"] });
for (const [name, width, height, scheme] of [["page-phone", 360, 740, "light"], ["page-phone-dark", 360, 740, "dark"], ["page-wide", 1400, 900, "light"], ["page-wide-dark", 1400, 900, "dark"]]) {
  const page = await (await browser.newContext({ viewport: { width, height }, colorScheme: scheme })).newPage();
  await page.goto(base);
  await page.locator(".timeline .past").first().waitFor({ state: "attached" });
  await page.locator("#schedule-chart .bar").first().waitFor({ state: "attached" });
  await page.waitForTimeout(1000);
  await page.screenshot({ path: path.join(out, `${name}.png`) });
  await page.screenshot({ path: path.join(out, `${name}-whole.png`), fullPage: true });
}
await browser.close();
