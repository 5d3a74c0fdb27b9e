// Tests of drive.mjs that are about one cook.
import assert from "node:assert/strict";
import { Taps, accessible, ask, cli, dish, fits, shown, told } from "./bench.mjs";

/** It went into another vessel and got another core meanwhile, and is in no kitchen file any more. */
export async function movedCook() {
  const page = await shown(), moment = "([A-Z][a-z][a-z] )?\\d\\d:\\d\\d";
  await cli("begin", "boar-shoulder");
  await page.waitForTimeout(4000);
  await cli("dish", "boar-shoulder", "--vessel", "oven", "--core", "goose-core");
  await page.waitForTimeout(4000);
  await cli("end", "boar-shoulder");
  await cli("dish", "boar-shoulder", "--drop");
  await page.reload();
  await page.waitForSelector(".vessel .number");
  assert.equal(await dish(page, "boar-shoulder").count(), 0);
  await page.locator("#past summary").click();
  const cook = page.locator(".cook", { hasText: "boar-shoulder" });
  await cook.getByRole("button", { name: /Review/ }).click();
  const read = cook.getByText(new RegExp(`^Read with boar-core \\(core until ${moment}\\), goose-core \\(core from ${moment}\\), smoke \\(in smoker until ${moment}\\) and oven-air \\(in oven from ${moment}\\)\\.$`));
  await read.waitFor();
  await cook.locator("polyline.fourth-line").first().waitFor({ state: "attached", timeout: 25_000 });
  const legend = await cook.locator(".entry").allTextContents();
  assert.deepEqual(legend.map((line) => line.trim().split(":")[0]), ["boar-core (core)", "goose-core (core)", "smoke (smoker)", "oven-air (oven)"]);
  assert.ok(legend.every((line) => /: -?[\d.]+ °F to -?[\d.]+ °F$/.test(line)), `${legend}`);
  const ends = await cook.locator("svg[role=img]").evaluate((svg) => Object.fromEntries(["third", "fourth"].map((which) => {
    const at = [...svg.querySelectorAll(`polyline.${which}-line`)].flatMap((line) => line.getAttribute("points").split(" ").map((p) => Number(p.split(",")[0])));
    return [which, [Math.min(...at), Math.max(...at)]];
  })));
  assert.ok(ends.third[1] <= ends.fourth[0], `the two vessels at one time: ${JSON.stringify(ends)}`);
  assert.ok(await fits(page));
  await accessible(page, "a past cook");
  await page.context().close();
}

/** Said on one page it stands on another, in the schedule and over a restart; at most three taps. */
export async function servingTime() {
  const [page, other] = [await shown(), await shown({ width: 768 })];
  const cards = [page, other].map((one) => dish(one, "quince-tart")), set = cards[0].getByRole("button", { name: "Serving time of quince-tart" });
  const taps = new Taps();
  await taps.on(set);
  const first = page.getByRole("dialog").locator(".choices button").first(), word = await first.textContent();
  await accessible(page, "a serving time");
  await taps.on(first);
  taps.done("to say when it is served");
  const clock = /\d\d:\d\d$/.exec(word)[0], said = new RegExp(`^To be served at ([A-Z][a-z][a-z] )?${clock}$`);
  await told(page, "quince-tart is to be served");
  for (const card of cards) await card.locator(".serving", { hasText: said }).waitFor();
  await page.locator("#schedule-dishes > li", { hasText: "quince-tart" }).getByText(new RegExp(`Served at ([A-Z][a-z][a-z] )?${clock}`)).waitFor();

  // A day and a time of one's own; what is over is refused in words, and asked for again.
  await set.click();
  const box = page.getByRole("dialog");
  await box.getByLabel("Or at").fill("00:00");
  await box.getByLabel("On", { exact: true }).selectOption({ index: 0 });
  await box.getByRole("button", { name: "Set it" }).click();
  await box.locator(".failed", { hasText: "over already" }).waitFor();
  await box.getByLabel("On", { exact: true }).selectOption({ index: 2 });
  await box.getByLabel("Or at").fill("18:30");
  await box.getByRole("button", { name: "Set it" }).click();
  await cards[1].locator(".serving", { hasText: /^To be served at [A-Z][a-z][a-z] 18:30$/ }).waitFor();

  await ask("kill");
  await ask("start");
  await page.reload();
  await cards[0].locator(".serving", { hasText: /^To be served at [A-Z][a-z][a-z] 18:30$/ }).waitFor();
  await set.click();
  await page.getByRole("button", { name: "No serving time" }).click();
  await cards[1].locator(".serving").waitFor({ state: "hidden" });
  assert.ok(await fits(page));
  await page.context().close();
  await other.context().close();
}
