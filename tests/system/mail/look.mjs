// Opens pages in a real browser as wide as a phone: how wide each is, what it says in its order, what its accessibility tree has
// a screen reader say, and a picture of it.
// Arguments: folder of the packages, browser, folder for the pictures, then addresses. One JSON line for each.
import path from "node:path";
import { createRequire } from "node:module";

const [packages, executablePath, folder, ...addresses] = process.argv.slice(2);
const { chromium } = createRequire(path.join(packages, "x.js"))("playwright-core");
const browser = await chromium.launch({ executablePath, args: ["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"] });
const context = await browser.newContext({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true });

const whole = new Set(["link", "button", "image", "heading", "StaticText"]);
async function spoken(page) {
  const { nodes } = await (await context.newCDPSession(page)).send("Accessibility.getFullAXTree");
  const of = new Map(nodes.map((node) => [node.nodeId, node]));
  const say = (node) => (!node.ignored && whole.has(node.role.value) ? [`${node.role.value}: ${node.name.value}`] : node.childIds.flatMap((id) => say(of.get(id))));
  return say(nodes[0]);
}

for (const [number, address] of addresses.entries()) {
  const page = await context.newPage();
  await page.goto(address);
  const seen = await page.evaluate(() => ({
    width: Math.max(document.documentElement.scrollWidth, ...[...document.querySelectorAll("body *")].map((e) => Math.ceil(e.getBoundingClientRect().right))),
    text: document.body.innerText,
    smallest: Math.min(...[...document.querySelectorAll("p, a, button, li")].map((e) => Number.parseFloat(getComputedStyle(e).fontSize))),
    pictures: [...document.images].every((image) => image.complete && image.naturalWidth > 0),
  }));
  seen.spoken = await spoken(page);
  await page.screenshot({ path: path.join(folder, `seen-${number}.png`), fullPage: true });
  console.log(JSON.stringify(seen));
  await page.close();
}
await browser.close();
