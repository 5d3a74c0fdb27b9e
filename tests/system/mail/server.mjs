// A mail server that is not ours, encrypted and with a login, and a parser of what it was given. Writes a line of JSON for its
// port, each login and each mail. usage: server.mjs KEY CERTIFICATE PASSWORD [ANSWER...]: of each mail in turn, then 250
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const installed = createRequire(`${process.cwd()}/package.json`);
const { SMTPServer } = installed("smtp-server");
const { simpleParser } = installed("mailparser");

const [key, certificate, password, ...answers] = process.argv.slice(2);
const say = (line) => process.stdout.write(`${JSON.stringify({ at: Date.now() / 1000, ...line })}\n`);

const server = new SMTPServer({
  key: readFileSync(key),
  cert: readFileSync(certificate),
  authMethods: ["PLAIN", "LOGIN"],
  onAuth(login, session, done) {
    const right = login.username === "cook" && login.password === password;
    say({ event: "login", right, encrypted: session.secure });
    if (right) return done(null, { user: login.username });
    return done(Object.assign(new Error("no such cook"), { responseCode: 535 }));
  },
  onData(stream, session, done) {
    simpleParser(stream).then((mail) => {
      const answer = Number(answers.shift() ?? 250);
      const { mailFrom, rcptTo } = session.envelope;
      const parts = mail.attachments.map((part) => ({ type: part.contentType, id: part.cid, related: part.related, png: part.content.toString("base64") }));
      const headers = Object.fromEntries(mail.headerLines.map(({ key: name, line }) => [name, line]));
      say({ event: "mail", answer, from: mailFrom.address, to: rcptTo.map((each) => each.address), subject: mail.subject, text: mail.text,
            html: mail.html, id: mail.messageId, date: mail.date, parts, headers, encrypted: session.secure });
      done(answer === 250 ? null : Object.assign(new Error("not now"), { responseCode: answer }));
    });
  },
  onClose() {},
});
server.on("error", (error) => say({ event: "error", text: error.message }));
server.listen(0, "127.0.0.1", () => say({ event: "listens", port: server.server.address().port }));
