// Orders to the daemon. Each says what was done, or why not.
import { signIn } from "./dialogs.js";

/** @type {(text: string, bad: boolean, dish: string, again: boolean) => void} */
let tell = () => {};
let refusal = "";
const canBeTakenBack = ["begin", "next", "end"];
/** @type {() => void} */
let after = () => {};

/** @param {(text: string, bad: boolean, dish: string, again: boolean) => void} say the dish whose order can be taken back, "" = none, and whether it is a second next that may be meant; @param {() => void} refresh */
export function ordersTell(say, refresh) {
  tell = say;
  after = refresh;
}

/** @param {string} path @param {any} body @param {Record<string, string>} headers */
async function post(path, body, headers = {}) {
  const answer = await fetch(path, {
    method: "POST",
    headers: { "Content-Type": "application/json", ...headers },
    body: body === null ? null : JSON.stringify(body),
    signal: AbortSignal.timeout(15_000),
  });
  const text = await answer.text();
  return { status: answer.status, json: text ? JSON.parse(text) : {} };
}

/**
 * Sends an order; asks for the token where one is needed, and then sends it again.
 * @param {string} path @param {any} body @param {string} dish whose order it is, where it can be taken back
 * @returns {Promise<boolean>} it was done
 */
async function send(path, body, dish = "") {
  try {
    let { status, json } = await post(path, body);
    if (status === 401 && await signIn(showToken)) ({ status, json } = await post(path, body));
    const done = status === 200 && json.done;
    refusal = done ? "" : json.error ?? json.text ?? `the kitchen answered ${status}`;
    const twice = !done && /`ingle next [^`]*--again`/.test(refusal);
    tell(done ? json.text : refusal, !done, done || twice ? dish : "", twice);
    after();
    return done;
  } catch {
    refusal = "It did not reach the kitchen, or its answer did not come back.";
    tell("The order did not reach the kitchen, or its answer did not come back: look before you repeat it.", true, "", false);
    return false;
  }
}

/** @param {string} name @param {any} body */
export function order(name, body) {
  return send(`/api/commands/${name}`, body, canBeTakenBack.includes(name) ? body.dish : "");
}

/** Why the newest order was not done; "" = it was. */
export function whyNot() {
  return refusal;
}

/** @param {string} channel */
export function testChannel(channel) {
  return send(`/api/channels/${encodeURIComponent(channel)}/test`, null);
}

/** A link for a guest, which is told once. @param {string} length with its unit @returns {Promise<{link: string, until: string} | null>} */
export async function guestLink(length) {
  try {
    const { status, json } = await post("/api/guest", { for: length });
    if (status === 200) return json;
    tell(json.error ?? `No link was made: the kitchen answered ${status}.`, true, "", false);
  } catch {
    tell("No link was made: the kitchen did not answer.", true, "", false);
  }
  return null;
}

/** Forgets the token on this device. */
export async function signOut() {
  try {
    const { status } = await post("/api/session/end", null);
    tell(status === 204 || status === 401 ? "Signed out: this device keeps the token no more." : `Not signed out: the kitchen answered ${status}.`, status !== 204 && status !== 401, "", false);
    after();
  } catch {
    tell("Not signed out: the kitchen did not answer.", true, "", false);
  }
}

/** Keeps the token for 30 days, as a cookie that no script can read. @param {string} token @returns {Promise<string>} "" or why not */
export async function showToken(token) {
  try {
    const { status, json } = await post("/api/session", null, { Authorization: `Bearer ${token.trim()}` });
    if (status === 204) { after(); return ""; }
    return status === 401 ? "That is not the token." : json.error ?? `The kitchen answered ${status}.`;
  } catch {
    return "The kitchen did not answer. The token may hold letters, digits and signs of ASCII only.";
  }
}
