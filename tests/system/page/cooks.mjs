// Tests of drive.mjs that are about one cook.
import assert from "node:assert/strict";
import { accessible, cli, dish, fits, shown } from "./bench.mjs";

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
