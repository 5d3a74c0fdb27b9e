// Questions to the cook, each in a modal dialog that Escape closes.
import { button, make } from "./dom.js";
import { servingDays, servingHours } from "./planned.js";
import { onPage, quantity } from "./text.js";

let count = 0;

/** @param {string} label @param {any} input */
function field(label, input) {
  input.id = `field-${++count}`;
  return make("p", { className: "field" }, make("label", { htmlFor: input.id }, label), input);
}

/**
 * @param {string} title
 * @param {(close: (answer: any) => void, fail: (why: string) => void) => {parts: HTMLElement[], submit?: () => void, word?: string}} content
 * @returns {Promise<any>} null: it was closed
 */
function dialog(title, content) {
  return new Promise((resolve) => {
    let answer = /** @type {any} */ (null);
    const heading = make("h2", { id: `dialog-${++count}` }, title);
    const failed = make("p", { className: "failed", role: "alert" });
    const box = make("dialog", { "aria-labelledby": heading.id });
    const close = (/** @type {any} */ given) => { answer = given; box.close(); };
    const { parts, submit, word } = content(close, (why) => { failed.textContent = onPage(why); });
    const send = word ? [make("button", { type: "submit", className: "first" }, word)] : [];
    const form = make("form", { onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); submit?.(); } },
      heading, ...parts, failed, make("p", { className: "buttons" }, ...send, button("Leave it", () => close(null))));
    box.append(form);
    box.addEventListener("close", () => { box.remove(); resolve(answer); });
    document.body.append(box);
    box.showModal();
  });
}

/** @param {(token: string) => Promise<string>} show @returns {Promise<boolean>} */
export async function signIn(show) {
  return await dialog("Sign in", (close, fail) => {
    const token = make("input", { type: "password", autocomplete: "current-password", required: true });
    return {
      parts: [make("p", {}, "Orders need the kitchen's token. Whoever set the kitchen up has it. This device keeps it for 30 days after you last looked, or until you sign out at the end of the page."),
        make("details", {}, make("summary", {}, "Where it stands"), make("p", {}, "In the file that token-file names in the kitchen file, else in page.token in the folder of the kitchen's state.")),
        field("Token", token)],
      word: "Sign in",
      submit: async () => { const why = await show(token.value); if (why) fail(why); else close(true); },
    };
  }) === true;
}

/** @param {string} name @param {string} sign @param {{low: string, high: string}} before @param {string} why the band that was asked for before is refused; "" = none was @returns {Promise<{low: string, high: string} | "none" | null>} */
export function askBand(name, sign, before, why) {
  return dialog(`Hold ${name}`, (close, fail) => {
    const edge = (/** @type {string} */ value) => make("input", { type: "text", inputMode: "decimal", value, autocomplete: "off" });
    const low = edge(before.low), high = edge(before.high);
    if (why) fail(why);
    return {
      parts: [field(`From, ${sign}`, low), field(`To, ${sign}`, high),
        ...(before.low ? [button("Hold it no more", () => close("none"))] : [])],
      word: "Hold",
      submit: () => {
        const wrong = [low, high].find((one) => !quantity(one.value, "degC"))?.value.trim();
        if (wrong === undefined) close({ low: low.value, high: high.value });
        else fail(wrong ? `“${wrong}” is no temperature: write a number, such as 85 or 62.5.` : "Both numbers are needed.");
      },
    };
  });
}

/** @param {string} title @param {string[]} ready notes at one tap @returns {Promise<string | null>} */
export function askNote(title, ready) {
  return dialog(title, (close, fail) => {
    const text = make("input", { type: "text", maxLength: 500, autocomplete: "off" });
    return {
      parts: [make("div", { className: "choices" }, ...ready.map((one) => button(one, () => close(one)))), field("Or in your words", text)],
      word: "Keep the note",
      submit: () => text.value.trim() ? close(text.value.trim()) : fail("The note is empty."),
    };
  });
}

/** @returns {Promise<{minutes: string, text: string} | null>} */
export function askTimer() {  // the focus is on the minutes: on "What for" a phone would lay its keys over them
  return dialog("Timer", (close, fail) => {
    const text = make("input", { type: "text", maxLength: 200, autocomplete: "off" });
    const minutes = make("input", { type: "text", inputMode: "decimal", autocomplete: "off" });
    const set = (/** @type {string} */ length) => close({ minutes: length, text: text.value.trim() });
    return {
      parts: [field("What for (may stay empty)", text),
        make("div", { className: "choices" }, ...["5", "10", "15", "20", "30", "45", "60"].map((m, place) => button(`${m} min`, () => set(m), { autofocus: place === 0 }))),
        field("Or minutes", minutes)],
      word: "Set it",
      submit: () => {
        const typed = minutes.value.trim().replace(",", ".").replace(/\s*min(utes?)?\.?$/i, "");
        return Number(typed) > 0 && !/[a-z]/i.test(typed) ? set(typed) : fail(typed ? `"${typed}" is no number of minutes; write it as 20 or 2.5` : "How many minutes?");
      },
    };
  });
}

/**
 * @param {string} name @param {{ms: number, offset: number}} now by the kitchen's clock @param {string | null} before the serving time that is set, or was asked for @param {string} why that was refused; "" = none was
 * @returns {Promise<string | null>} "2026-11-26T17:00" by the kitchen's clock, or "none"
 */
export function askServing(name, now, before, why) {
  return dialog(`When is ${name} to be served?`, (close, fail) => {
    const hours = servingHours(now.ms, now.offset), days = servingDays(now.ms, now.offset), set = before?.slice(0, 10);
    if (why) fail(why);
    const clock = make("input", { type: "time", required: true, value: days.some(({ date }) => date === set) ? before?.slice(11, 16) : "" });
    const day = make("select", {}, ...days.map(({ date, word }) => make("option", { value: date, selected: date === set }, word)));
    return {
      parts: [make("div", { className: "choices" }, ...hours.map(({ at, word }, place) => button(word, () => close(at), { autofocus: place === 0 }))),
        field("Or at", clock), field("On", day), ...(before ? [button("No serving time", () => close("none"))] : [])],
      word: "Set it",
      submit: () => /^\d\d:\d\d/.test(clock.value) ? close(`${day.value}T${clock.value.slice(0, 5)}`) : fail("At what time?"),
    };
  });
}

/** @param {string} what @returns {Promise<string | null>} a length of time with its unit */
export function askShelve(what) {
  return dialog("Shelve this alarm", (close) => ({
    parts: [make("p", {}, what), make("p", {}, "It stays silent for so long, unless it becomes worse:"),
      make("div", { className: "choices" }, ...["10 min", "30 min", "1 h", "4 h"].map((length) => button(length, () => close(length))))],
  }));
}

/** @returns {Promise<string | null>} a length of time with its unit */
export function askGuest() {
  return dialog("Link for a guest", (close) => ({
    parts: [make("p", {}, "Whoever opens it may look at this kitchen and change nothing. It ends after:"),
      make("div", { className: "choices" }, ...["2 h", "8 h", "1 day", "7 days"].map((length) => button(length, () => close(length))))],
  }));
}

/** @param {string} address @param {string} until @returns {Promise<null>} */
export function showGuestLink(address, until) {
  return dialog("Link for a guest", (close) => {
    const link = make("input", { type: "text", readOnly: true, value: address, onfocus: () => link.select() });
    return { parts: [make("p", {}, `It is good until ${until}. It is shown here once, and listed nowhere. Another token for the page ends it sooner.`), field("Its address", link)], word: "Seen", submit: () => close(null) };
  });
}

/** @param {string} question @param {string} word @returns {Promise<boolean>} */
export async function confirmed(question, word) {
  return await dialog(question, (close) => ({ parts: [], word, submit: () => close(true) })) === true;
}
