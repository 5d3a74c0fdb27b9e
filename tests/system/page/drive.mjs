// Looks at the page and taps on it, in a real browser. Arguments: folder of the packages, browser, address, token,
// names of tests (none: all but signIn, crowded, movedCook, servingTime and guest). What the daemon's side must do goes out as "DO what", and is answered "done".
import assert from "node:assert/strict";
import { base, token, chosen, ask, cli, browser, faults, open, shown, vessel, dish, told, Taps, countTones, accessible, withoutCommands, broken, fits } from "./bench.mjs";
import { movedCook, servingTime } from "./cooks.mjs";

const tests = {
  movedCook,
  servingTime,

  async firstLoad() {
    const page = await open();
    const session = await page.context().newCDPSession(page);
    const bytes = new Map(), files = [];
    await session.send("Network.enable");
    session.on("Network.responseReceived", ({ requestId, response }) => { if (response.url.startsWith(base) && !response.url.includes("/api/")) files.push(response.url); bytes.set(requestId, 0); });
    session.on("Network.loadingFinished", ({ requestId, encodedDataLength }) => bytes.set(requestId, encodedDataLength));
    await page.goto(base);
    await page.waitForSelector(".vessel .number");
    await page.waitForSelector(".timeline .past", { state: "attached" });
    const all = [...bytes.values()].reduce((sum, one) => sum + one, 0);
    console.log(`first load: ${files.length} files, ${all} bytes with the first readings`);
    assert.equal(files.length, 3, `${files}`);
    assert.ok(all > 10_000 && all <= 120_000, `${all} bytes`);
    await page.context().close();
  },

  async everyWidth() {
    for (const [width, scheme] of [[360, "light"], [360, "dark"], [768, "light"], [1400, "dark"]]) {
      const page = await shown({ width, scheme });
      assert.equal(await page.locator(".vessel").count(), 7);
      assert.ok(await fits(page), `at ${width} px the page is wider than the screen`);
      if (width === 1400 || (width === 360 && scheme === "light")) await accessible(page, `${width} px, ${scheme}`);
      if (scheme === "dark") {
        await page.emulateMedia({ media: "print" });
        assert.equal(await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor), "rgb(250, 248, 243)", "it prints a dark page");
        await page.emulateMedia({ media: "screen" });
      }
      if (width === 360 && scheme === "light") {
        const small = await page.evaluate(() => [...document.querySelectorAll("button")].filter((b) => b.offsetParent).map((b) => b.getBoundingClientRect()).filter((r) => r.width < 44 || r.height < 44).length);
        assert.equal(small, 0, "a button is smaller than 44 px");
        await page.evaluate(() => { document.documentElement.style.fontSize = "200%"; });
        assert.ok(await fits(page), "with text of 200 % the page is wider than the screen");
        assert.deepEqual(await broken(page), [], "with text of 200 % a number or a word breaks");
      }
      await page.context().close();
    }
  },

  async liveChange() {
    const page = await shown();
    const number = vessel(page, "kettle").locator(".number"), before = await number.textContent();
    await page.waitForFunction(([text]) => [...document.querySelectorAll(".vessel")].some((v) => v.querySelector("h3").textContent === "kettle" && /^\d/.test(v.querySelector(".number").textContent) && v.querySelector(".number").textContent !== text), [before]);
    assert.match(await vessel(page, "kettle").locator(".sentence").textContent(), /\.$/);
    assert.equal(await page.title().then((t) => t.includes("village hall")), true);
    await page.context().close();
  },

  async orders() {
    const page = await shown();
    let taps = new Taps();
    await taps.on(vessel(page, "kettle").getByRole("button", { name: /Hold/ }));
    await page.getByLabel("From, °F").fill("141 °F");
    await taps.on(page.getByRole("dialog").getByRole("button", { name: "Hold", exact: true }));
    await told(page, "holding 141.0 to 158.0 °F");
    await vessel(page, "kettle").locator(".band", { hasText: "141 to 158 °F" }).waitFor();
    taps.done("to hold a band");

    // One that is refused is asked for again, with what was typed and why.
    await vessel(page, "kettle").getByRole("button", { name: /Hold/ }).click();
    await page.getByLabel("From, °F").fill("hot");
    await page.getByRole("dialog").getByRole("button", { name: "Hold", exact: true }).click();
    await page.getByRole("dialog").locator(".failed", { hasText: "“hot” is no temperature" }).waitFor();
    await page.getByLabel("From, °F").fill("190");
    await page.getByLabel("To, °F").fill("180");
    await page.getByRole("dialog").getByRole("button", { name: "Hold", exact: true }).click();
    await page.getByRole("dialog").locator(".failed", { hasText: /low/ }).waitFor();
    assert.equal(await page.getByLabel("From, °F").inputValue(), "190", "what was typed is lost");
    await page.getByRole("button", { name: "Leave it" }).click();
    await page.getByRole("dialog").waitFor({ state: "detached" });

    taps = new Taps();
    await taps.on(dish(page, "quince-tart").getByRole("button", { name: /Begin/ }));
    await dish(page, "quince-tart").locator(".stage", { hasText: /Bake, \d+ min left, until ([A-Z][a-z][a-z] )?\d\d:\d\d/ }).waitFor();
    taps.done("to begin");
    await page.locator("#glance .ready", { hasText: "quince-tart: bake" }).waitFor();

    taps = new Taps();
    await taps.on(dish(page, "quince-tart").getByRole("button", { name: /Next/ }));
    await dish(page, "quince-tart").locator(".stage", { hasText: "Cool" }).waitFor();
    assert.equal(await page.locator("#needs-list").getByRole("button", { name: "Next stage of quince-tart" }).count(), 0, "a stage that goes on is offered to be left");
    taps.done("to go on");

    await withoutCommands(page);
    await dish(page, "quince-tart").getByRole("button", { name: /Next/ }).click();  // a second press is asked about
    await told(page, "went on to cool");
    await page.locator("#told-again").waitFor();
    await withoutCommands(page);

    taps = new Taps();
    await taps.on(page.getByRole("button", { name: "Take it back" }));
    await dish(page, "quince-tart").locator(".stage", { hasText: "Bake" }).waitFor();
    assert.equal(await page.locator("#told-back").isVisible(), false, "what was taken back is offered to be taken back");
    taps.done("to take an order back");
    await dish(page, "quince-tart").getByRole("button", { name: /Take back/ }).click();
    await dish(page, "quince-tart").locator(".stage", { hasText: "Not begun" }).waitFor();
    await dish(page, "quince-tart").getByRole("button", { name: /Begin/ }).click();
    await dish(page, "quince-tart").locator(".stage", { hasText: /Bake/ }).waitFor();
    await page.waitForTimeout(3000);  // so that its review has readings of the oven to show

    taps = new Taps();
    await taps.on(page.getByRole("button", { name: "Note", exact: true }).last());
    await page.getByLabel("Or in your words").fill("<img src=x onerror=alert(1)> & \"thyme\"");
    await taps.on(page.getByRole("button", { name: "Keep the note" }));
    await told(page, "note");
    taps.done("to note");

    await vessel(page, "kettle").getByRole("button", { name: /Note/ }).click();
    await page.getByLabel("Or in your words").fill("<b>bold</b>");
    await page.getByRole("button", { name: "Keep the note" }).click();
    await vessel(page, "kettle").locator("summary").click();
    await vessel(page, "kettle").locator("li", { hasText: "<b>bold</b>" }).waitFor();
    assert.equal(await page.locator("main b, main img").count(), 0, "a note was read as markup");

    taps = new Taps();
    await taps.on(dish(page, "quince-tart").getByRole("button", { name: /End/ }));
    await taps.on(page.getByRole("button", { name: "End it" }));
    await dish(page, "quince-tart").locator(".stage", { hasText: "Not begun" }).waitFor();
    taps.done("to end");
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    const [said, past] = [await page.locator("#told").boundingBox(), await page.locator("#past summary").boundingBox()];
    assert.ok(past.y + past.height <= said.y, "what was done is told over the past cooks");
    await page.locator("#past summary").click();
    const cook = page.locator(".cook", { hasText: "quince-tart" }).first();  // the newest, which lasted longest
    await cook.getByText("2: quince-tart").waitFor();
    await cook.getByRole("button", { name: /Review/ }).click();
    await cook.locator("polyline").first().waitFor({ state: "attached", timeout: 25_000 });
    const label = await cook.locator("svg[role=img]").getAttribute("aria-label");
    await cook.locator("li", { hasText: "quince-tart" }).first().waitFor();
    const scale = await cook.locator("svg[role=img]").evaluate((svg) => [...svg.querySelectorAll("text.level")].map((t) => Number(t.textContent)));
    assert.ok(scale.length >= 2 && scale.every(Number.isFinite), `the scale is ${scale}`);
    await cook.getByText("Read with oven-air (in oven).").waitFor();
    await cook.getByRole("button", { name: "Wider" }).click();
    await withoutCommands(page);
    assert.match(label, /^Readings of quince-tart from ([A-Z][a-z][a-z] )?\d\d:\d\d to ([A-Z][a-z][a-z] )?\d\d:\d\d$/);

    // What it was read with is not known where the logbook does not say it: then nothing is drawn.
    await page.route("**/api/cooks?*", async (route) => {
      const answer = await route.fetch(), { cooks, ...rest } = await answer.json();
      await route.fulfill({ response: answer, json: { ...rest, cooks: cooks.map((one) => ({ ...one, read_with: null })) } });
    });
    await page.reload();
    await page.locator("#past summary").click();
    const asked = page.waitForRequest(/\/api\/history\?from=.*probe=no%20probe/);
    await cook.getByRole("button", { name: /Review/ }).click();
    await asked;
    await cook.getByText("What quince-tart was read with is not known: ").waitFor();
    await cook.locator("li", { hasText: "quince-tart" }).first().waitFor();
    assert.equal(await cook.locator("polyline").count(), 0);
    await page.unroute("**/api/cooks?*");
    await dish(page, "quince-tart").waitFor();

    await page.getByRole("button", { name: "Timer", exact: true }).focus();
    await page.keyboard.press("Enter");
    await page.getByRole("dialog").waitFor();
    assert.equal(await page.evaluate(() => document.activeElement.textContent), "5 min", "a phone lays its keys over the minutes");
    await accessible(page, "a dialog");
    await page.keyboard.press("Escape");
    await page.getByRole("dialog").waitFor({ state: "detached" });
    assert.equal(await page.evaluate(() => document.activeElement.id), "new-timer", "the focus is lost after a dialog");
    await page.context().close();
  },

  async alarmsOnTwoPages() {
    const [one, other] = [await shown(), await shown({ width: 768 })];
    const taps = new Taps();
    await taps.on(one.getByRole("button", { name: "Timer", exact: true }));
    await one.getByLabel("What for").fill("turn the tart");
    await taps.on(one.getByRole("button", { name: "20 min" }));
    taps.done("to set a timer");
    await other.locator(".timer", { hasText: "turn the tart" }).waitFor();
    await one.getByRole("button", { name: "Stop timer 1" }).click();
    await other.locator(".timer").waitFor({ state: "detached" });

    await cli("remind", "baste it", "--every", "20 min");
    await cli("timer", "100 h", "the ham");
    await other.locator("#timers .timer", { hasText: /the ham, until (Sun|Mon|Tue|Wed|Thu|Fri|Sat) \d\d:\d\d/ }).waitFor();
    await one.locator("#reminders .timer", { hasText: /baste it: every 20 min, next at ([A-Z][a-z][a-z] )?\d\d:\d\d/ }).waitFor();
    await one.getByRole("button", { name: /Stop reminder/ }).click();
    await one.getByRole("button", { name: /Stop timer/ }).click();
    await other.locator("#reminders .timer").waitFor({ state: "detached" });
    await other.locator("#timers .timer").waitFor({ state: "detached" });

    await cli("begin", "boar-shoulder", "--when", "3 h ago");
    await dish(one, "boar-shoulder").locator(".stage", { hasText: "Smoke" }).waitFor();
    await dish(one, "boar-shoulder").getByRole("button", { name: /Take back/ }).click();
    await dish(other, "boar-shoulder").locator(".stage", { hasText: "Not begun" }).waitFor();

    await countTones(one);
    await one.getByRole("button", { name: "Sound", exact: true }).click();
    await one.getByRole("button", { name: "Sound on", pressed: true }).waitFor();
    assert.equal(await one.evaluate(() => globalThis.tones), 1, "the sound is not tried when it is turned on");

    await cli("timer", "1 s", "take it out");
    const of = (page) => page.locator("#needs-list .alarm", { hasText: "take it out" });
    await of(one).waitFor();
    await of(other).waitFor();
    await one.waitForFunction(() => globalThis.tones > 1);
    const again = new Taps(), began = Date.now();
    await again.on(of(one).getByRole("button", { name: /Acknowledge/ }));
    await of(other).waitFor({ state: "detached" });
    again.done("to acknowledge");
    console.log(`acknowledged on one page, seen on the other after ${Date.now() - began} ms`);

    await cli("timer", "1 s", "stir it");
    const stir = other.locator("#needs-list .alarm", { hasText: "stir it" });
    await stir.getByRole("button", { name: /Shelve/ }).click();
    await other.getByRole("button", { name: "30 min" }).click();
    await one.locator("#seen summary").click();
    await one.locator("#seen .quiet", { hasText: /shelved until ([A-Z][a-z][a-z] )?\d\d:\d\d/ }).waitFor();
    await accessible(one, "with alarms");
    await one.locator("#seen").getByRole("button", { name: /Shelve no more/ }).first().click();
    await other.locator("#needs-list .alarm", { hasText: "stir it" }).getByRole("button", { name: /Acknowledge/ }).click();
    await one.context().close();
    await other.context().close();
  },

  async schedule() {
    const page = await shown(), section = page.locator("#schedule");
    await section.locator("#schedule-chart rect").first().waitFor({ state: "attached" });
    const { dishes, conflicts } = await page.evaluate(async () => (await fetch("/api/schedule")).json());
    assert.equal(await section.locator("#schedule-dishes > li").count(), dishes.length);
    assert.equal(await section.locator("#schedule-conflicts > article").count(), conflicts.length);
    for (const { dish: name, serve_at } of dishes.filter((d) => d.serve_at)) {
      const [, clock] = /T(\d\d:\d\d)/.exec(serve_at);
      assert.match(await section.locator("#schedule-dishes > li", { hasText: name }).textContent(), new RegExp(`Served at .*${clock}`));
    }
    await withoutCommands(page);
    await accessible(page, "with the schedule");
    await page.context().close();
  },

  /** A kitchen of 25 vessels that warm up, with names and a kitchen's name of a length that nobody foresaw. */
  async crowded() {
    const page = await shown();
    await cli("timer", "1 s", "turn the tart");
    const seen = page.locator("#needs-list .alarm", { hasText: "turn the tart" }).getByRole("button", { name: /Acknowledge/ });
    await seen.waitFor();
    const [tap, bar] = [await seen.boundingBox(), await page.locator("#bar").boundingBox()];
    assert.ok(tap.y + tap.height <= bar.y, `what needs the cook is ${tap.y} px down, below the fold`);
    assert.match(await page.locator("#glance .holding dd").textContent(), /^No: 25 [a-z ,]+$/);
    const order = await page.locator("#glance dt").allTextContents();
    assert.equal(order[0], "Needs you");
    assert.deepEqual(await broken(page), []);
    await page.locator(".timeline text[text-anchor=end]").first().waitFor({ state: "attached" });
    const apart = await page.evaluate(() => [...document.querySelectorAll(".timeline")].map((svg) => [...svg.querySelectorAll("text[text-anchor=end]")].map((t) => Number(t.getAttribute("y")))).filter((y) => y.length === 2).map(([a, b]) => Math.abs(a - b)));
    assert.ok(apart.length === 25 && Math.min(...apart) >= 11, `limits stand over each other: ${apart}`);
    assert.ok(await fits(page));
    await page.context().close();
  },

  async silentProbe() {
    const page = await shown(), kettle = vessel(page, "kettle");
    await kettle.locator(".value.fading-0").waitFor();
    await ask("silence");
    await kettle.locator(".value:not(.fading-0)").waitFor({ timeout: 5000 });
    const age = await kettle.locator(".age").textContent();
    assert.match(age, /^(last .*, )?\d+ s old$/);
    assert.ok(Number(/(\d+) s old/.exec(age)[1]) <= 5, age);
    await ask("speak");
    await kettle.locator(".value.fading-0").waitFor();
    await page.context().close();
  },

  async lostDaemon() {
    const page = await shown({ width: 1400 }), line = page.locator("#link", { hasText: "No word from the kitchen since" });
    await countTones(page);
    await page.getByRole("button", { name: "Sound", exact: true }).click();
    await page.getByRole("button", { name: "Sound on", pressed: true }).waitFor();
    await page.waitForFunction(() => document.querySelector("#glance .needs dd").textContent === "Nothing" || globalThis.tones > 1);
    for (const [how, back] of [["freeze", "thaw"], ["kill", "start"]]) {
      await ask(how);
      const began = Date.now();
      await line.waitFor({ timeout: 6000 });
      const took = Date.now() - began;
      console.log(`after ${how}, told after ${took} ms`);
      assert.ok(took <= 3000, `it took ${took} ms to say that the daemon is lost`);
      await page.locator("body.lost").waitFor();
      await vessel(page, "kettle").locator(".value.fading-3").waitFor();
      await page.locator("#glance .holding", { hasText: "Not known" }).waitFor();
      await page.locator("#glance .needs[data-state=unknown]", { hasText: "Not known: no word from the kitchen" }).waitFor();
      await page.locator(".dish .stage", { hasText: /^As of \d\d:\d\d: / }).first().waitFor();
      if (how === "freeze") {
        const before = await page.evaluate(() => globalThis.tones);
        await page.waitForFunction((tones) => globalThis.tones >= tones + 5, before, { timeout: 12_000 });
      }
      await ask(back);
      await line.waitFor({ state: "hidden" });
      await vessel(page, "kettle").locator(".value.fading-0").waitFor();
    }
    await cli("timer", "1 s", "after the restart");
    await page.locator("#needs-list .alarm", { hasText: "after the restart" }).waitFor();
    await page.context().close();
  },

  async wrongToken() {
    const page = await open({ signed: false }), cookies = () => page.context().cookies(base);
    await page.context().addCookies([{ name: "ingle-token", value: "of-last-year", url: base, httpOnly: true, sameSite: "Strict" }]);
    await page.goto(base);
    await page.waitForSelector(".vessel .number");
    for (let i = 0; i < 50 && (await cookies()).length; i += 1) await page.waitForTimeout(100);
    assert.deepEqual(await cookies(), [], "an old token is kept");
    await page.locator("#signed-in").waitFor({ state: "hidden" });
    await dish(page, "trout").getByRole("button", { name: /Begin/ }).click();
    await page.getByLabel("Token").fill("guess");
    await page.getByRole("dialog").getByRole("button", { name: "Sign in" }).click();
    await page.getByText("That is not the token.").waitFor();
    await page.getByLabel("Token").fill(token);
    await page.getByRole("dialog").getByRole("button", { name: "Sign in" }).click();
    await dish(page, "trout").locator(".stage", { hasText: "Brine" }).waitFor();  // the order was sent again
    await page.locator("#sign-in").waitFor({ state: "hidden" });
    assert.equal(await page.evaluate(() => document.cookie), "", "a script can read the token");
    const days = ((await cookies())[0].expires - Date.now() / 1000) / 86_400;
    assert.ok(days > 29 && days < 31, `the token is kept for ${days} days`);
    await page.getByRole("button", { name: "Sign out" }).click();
    await told(page, "Signed out");
    await page.locator("#signed-in").waitFor({ state: "hidden" });
    assert.deepEqual(await cookies(), []);
    await dish(page, "trout").getByRole("button", { name: /Next/ }).click();
    await page.getByLabel("Token").waitFor();
    await page.context().close();
  },

  async guest() {
    const [cook, page] = [await shown(), await open({ signed: false, width: 768 })];
    const taps = new Taps();
    await taps.on(cook.getByRole("button", { name: "Link for a guest" }));
    await accessible(cook, "a guest's link");
    await taps.on(cook.getByRole("button", { name: "8 h" }));
    taps.done("to make a guest's link");
    const address = await cook.getByLabel("Its address").inputValue();
    assert.ok(address.startsWith(`${base}guest/`), address);
    await page.goto(address);
    await page.waitForSelector(".vessel .number");
    assert.equal(page.url(), base);
    await page.locator("#may", { hasText: "You look as a guest until" }).waitFor();
    assert.equal(await page.locator("#bar, article .buttons").filter({ visible: true }).count(), 0, "a guest is offered an order");
    const status = await page.evaluate(async () => (await fetch("/api/commands/acknowledge", { method: "POST", headers: { "Content-Type": "application/json" }, body: "{}" })).status);
    assert.equal(status, 403);
    // Who has the token signs in, guest or not.
    await page.getByRole("button", { name: "Sign in" }).click();
    await page.getByLabel("Token").fill(token);
    await page.getByRole("dialog").getByRole("button", { name: "Sign in" }).click();
    await page.locator("#bar").waitFor();
    await page.locator("#guest").waitFor({ state: "hidden" });
    await page.goto(`${address.slice(0, -1)}${address.endsWith("0") ? 1 : 0}`);
    await page.getByText("This link is not one of this kitchen's").waitFor();
    await cook.context().close();
    await page.context().close();
  },

  async signIn() {
    const page = await open({ signed: false });
    await page.goto(base);
    await page.locator("#link", { hasText: "sign in" }).waitFor();
    assert.equal(await page.locator(".vessel").count(), 0);
    await accessible(page, "before the token");
    await page.locator("#sign-in").click();
    await page.getByLabel("Token").fill("guess");
    await page.getByLabel("Token").press("Enter");
    await page.getByText("That is not the token.").waitFor();
    await page.getByLabel("Token").fill(token);
    await page.getByLabel("Token").press("Enter");
    await page.waitForSelector(".vessel .number");
    await vessel(page, "kettle").locator(".timeline .now").waitFor({ state: "attached" });
    await page.reload();
    await page.waitForSelector(".vessel .number");
    await page.context().close();
  },
};

let failed = 0;
for (const [name, test] of Object.entries(tests)) {
  if (chosen.length ? !chosen.includes(name) : ["signIn", "crowded", "movedCook", "servingTime", "guest"].includes(name)) continue;
  const began = Date.now();
  try {
    await test();
    assert.deepEqual(faults.splice(0), [], "the browser's console told of faults");
    console.log(`passed ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    console.log(`FAILED ${name}: ${error.stack}`);
  }
}
await browser.close();
process.exit(failed ? 1 : 0);
