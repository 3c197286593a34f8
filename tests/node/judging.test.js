/* How what is weighed and read stands to what is asked, held to the same tables as the studio's own judgement. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { besideTarget, besideWindow, isFarTooMuch, netOf, toTake, typed } from "../../studio/static/studio/bench_figures.js";
import { loadOf } from "../../studio/static/studio/bench_steps.js";
import { line, state } from "./pot.js";
import { same, share, table } from "./tables.js";

const JUDGED = table("judged");
const LOADS = table("loads");

test("a weight is under, within or over", () => {
  const found = JUDGED.weights.map(([target, drawn, tolerance]) =>
    [target, drawn, tolerance, besideTarget({ target: BigInt(target), drawn: BigInt(drawn), tolerance: BigInt(tolerance) })]);
  assert.deepEqual(found, JUDGED.weights);
});

test("a temperature is in its window or at its aim, or not", () => {
  const found = JUDGED.windows.map(([low, high, read]) => [low, high, read, besideWindow([low, high], BigInt(read)).word]);
  assert.deepEqual(found, JUDGED.windows);
});

test("how far a temperature is off its end or its aim", () => {
  const off = (low, high, read) => besideWindow([low, high], BigInt(read)).off;
  assert.deepEqual([off(57000, 62000, 56000), off(57000, 62000, 62500), off(57000, 62000, 60000)], [1000n, 500n, 0n]);
  assert.deepEqual([off(57000, 57000, 60000), off(57000, null, 55000), off(null, 62000, 61500)], [3000n, 2000n, 500n]);
  assert.equal(off(null, null, 57000), 0n);
});

/** A pot of the table as the tablet knows it, all of it weighed. */
function weighed(pot) {
  const items = [...new Set(pot.flatMap((each) => [each.name, ...(each.inside?.parts ?? []).map((part) => part.name)]))];
  const split = (text) => text.split("/");
  return pot.map((each, place) => {
    const inside = each.inside && {
      wax: split(each.inside.wax), scent: split(each.inside.scent), unknown: split(each.inside.unknown),
      words: each.inside.unknown === "0/1" ? "" : "What is in the recovered melt is not known.",
      parts: each.inside.parts.map((part) => ({ ...part, item: items.indexOf(part.name), share: split(part.share) })),
    };
    const { name, basis, maximum, maximum_basis } = each;
    return line(place + 1, each.kind, [[each.weight, each.weight]],
      { item: items.indexOf(name), name, basis, maximum, maximum_basis, inside: inside ?? null });
  });
}

for (const { says, pot, of_wax, of_melt, above } of LOADS.cases) {
  test(`a load: ${says}`, () => {
    const found = loadOf(state(), { lines: weighed(pot) }, 1, null, 0n);
    if (of_wax !== null) assert.ok(same(found.loadOfWax, share(of_wax)) && same(found.loadOfMelt, share(of_melt)));
    assert.equal(found.aboveMaximum, above.length > 0);
    assert.deepEqual(found.named.split(/, |; /).filter(Boolean).sort(), [...above].sort());
  });
}

for (const { says, pot } of LOADS.none) {
  test(`no load: ${says}`, () => assert.equal(loadOf(state(), { lines: weighed(pot) }, 1, null, 0n), null));
}

test("far too much is more than three times what is to go, and more than three steps of the scale", () => {
  const far = (net, wanted, division) => isFarTooMuch(BigInt(net), BigInt(wanted), BigInt(division));
  assert.deepEqual([far(300, 100, 1), far(301, 100, 1)], [false, true]);
  // 2 g to go on a scale of 5 g: 17 g are three steps more, 18 g are not.
  assert.deepEqual([far(17, 2, 5), far(18, 2, 5)], [false, true]);
  // Where nothing is to go, every weight is over, and said to be so.
  assert.deepEqual([far(1000, 0, 1), far(1000, -5, 1), far(4, 1, 1), far(5, 1, 1)], [false, false, false, true]);
});

test("net is gross less tare; parts have none, and nothing comes of what cannot be read", () => {
  assert.deepEqual([netOf(350n, 30n, true), netOf(30n, 350n, true), netOf(350n, 30n, false)], [320n, -320n, 350n]);
  assert.deepEqual([netOf(null, 0n, true), netOf(1n, null, true), netOf(0n, 0n, true)], [null, null, 0n]);
});

test("keys fill a field as they are pressed", () => {
  assert.equal(typed("1", "2"), "12");
  assert.equal(typed("1", ","), "1,");
  assert.equal(typed("1", "."), "1.");
  assert.equal(typed("1.5", "."), "1.5");
  assert.equal(typed("1.5", "back"), "1.");
  assert.equal(typed("", "back"), "");
  // What was filled in, or stands there from a scale, gives way to a figure, and is shortened by one.
  assert.equal(typed("920", "3", true), "3");
  assert.equal(typed("9.2", ".", true), ".");
  assert.equal(typed("920", "back", true), "92");
  assert.equal(typed("1234567890123", "4"), "12345678901234");
  assert.equal(typed("12345678901234", "5"), "12345678901234");
});

test("what is wanted is taken from the lots in order, no more than was suggested or is there", () => {
  const take = (picks, wanted, beyondPlan) => toTake(picks.map(([one, other]) => [BigInt(one), BigInt(other)]), BigInt(wanted), beyondPlan);
  assert.deepEqual(take([[700, 700], [220, 5000]], 920), [700n, 220n]);
  assert.deepEqual(take([[700, 700], [220, 5000]], 500), [500n, 0n]);
  // The last one fills the rest, more than was planned of it, up to what it holds.
  assert.deepEqual(take([[40, 60]], 50), [50n]);
  assert.deepEqual(take([[40, 60]], 70), [60n]);
  // Of the first no more than was planned of it, or than it holds by now.
  assert.deepEqual(take([[700, 900], [220, 5000]], 1000), [700n, 300n]);
  assert.deepEqual(take([[700, 300], [220, 5000]], 920), [300n, 620n]);
  // Beyond the plan, whatever each holds.
  assert.deepEqual(take([[10, 60], [10, 60]], 100, true), [60n, 40n]);
  assert.deepEqual(take([[10, -5], [10, 60]], 30, true), [0n, 30n]);
});
