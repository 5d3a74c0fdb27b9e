import assert from "node:assert/strict";
import fs from "node:fs";
import test from "node:test";

const folder = new URL("../../../../daemon/page/", import.meta.url);
const read = (name) => fs.readFileSync(new URL(name, folder), "utf8");
const order = /foreach\(name ([a-z ]+)\)/.exec(read("CMakeLists.txt"))[1].split(" ");

test("every module is joined, after those that it imports", () => {
  const there = fs.readdirSync(folder).filter((name) => name.endsWith(".js")).map((name) => name.slice(0, -3));
  assert.deepEqual([...order].sort(), there.sort());
  for (const [place, name] of order.entries())
    for (const [, imported] of read(`${name}.js`).matchAll(/^import .* from "\.\/([a-z]+)\.js";$/gm))
      assert.ok(order.indexOf(imported) < place, `${name} imports ${imported}, which comes later`);
});

test("joined into one file, no two modules use a name at their top", () => {
  const seen = new Map();
  for (const name of order)
    for (const line of read(`${name}.js`).split("\n")) {
      const found = /^(?:export )?(?:async )?(?:function|class|const|let) ([A-Za-z_$][\w$]*)(.*)/.exec(line);
      if (!found) continue;
      const more = /^(?:export )?(?:const|let) /.test(line) ? [...line.matchAll(/, ([A-Za-z_$][\w$]*) = /g)].map((m) => m[1]) : [];
      for (const one of [found[1], ...more]) {
        assert.ok(!seen.has(one), `${one} stands at the top of ${seen.get(one)} and of ${name}`);
        seen.set(one, name);
      }
    }
  assert.ok(seen.size > 60);
});

test("data goes into the document as text only", () => {
  for (const name of order) assert.doesNotMatch(read(`${name}.js`), /innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|new Function/);
});
