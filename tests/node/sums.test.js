/* Numbers, units, temperatures and loads at the bench, held to the same tables as the studio's own
   (tests/studio/test_vectors.py). */

import assert from "node:assert/strict";
import { test } from "node:test";

import {
  WEIGHTS, beyond, beyondHeat, entryText, misread, overshoot, percent, readAmount, readTemperature, rounded, up, writeAmount,
  writeDegrees, writeTemperature,
} from "../../studio/static/studio/bench_sums.js";
import { clock } from "../../studio/static/studio/bench_screen.js";
import { same, share, table, whole } from "./tables.js";

const NUMBERS = table("numbers");
const SHOWN = table("shown");

/** One test of a whole table: each row ends with what is expected of the rest. */
function held(says, rows, found) {
  test(says, () => {
    assert.ok(rows.length > 0);
    for (const row of rows) assert.deepEqual([...row.slice(0, -1), found(...row)], row);
  });
}

const plain = (amount) => (amount === null ? null : Number(amount));

held("amounts are read", NUMBERS.amounts, (text, unit) => plain(readAmount(text, unit)));
held("temperatures are read", NUMBERS.temperatures, (text, scale) => plain(readTemperature(text, scale)));
held("a number that cannot be read is told", NUMBERS.refused, misread);
held("an amount beyond what is kept is told", NUMBERS.beyond, beyond);
held("a temperature beyond sense is told", NUMBERS.beyond_heat, beyondHeat);
held("amounts are written", SHOWN.amounts, (amount, unit) => writeAmount(BigInt(amount), unit));
held("a field is filled", SHOWN.entries, (amount, unit) => entryText(BigInt(amount), unit));
held("temperatures are written", SHOWN.temperatures, writeTemperature);
held("percentages are written", SHOWN.percents, (over, under) => percent([BigInt(over), BigInt(under)]));
held("times are written", SHOWN.clocks, clock);

test("a number that may still become one is not told of", () => {
  for (const text of ["", "1", "1.", "1,", "1,250.", ".", "1,250.5", "0.5", "1,380", "x"]) assert.equal(misread(text), "");
});

test("nothing is beyond what is kept while it is no number, or can be kept", () => {
  for (const text of ["", "1,5", "x", "0", "12"]) assert.equal(beyond(text, "each"), "");
  // More decimals than are read are no number yet.
  assert.equal(beyond("0.0000000000001", "kg"), "");
  for (const text of ["", "-", "7x", "1,5", "85.1234"]) assert.equal(beyondHeat(text, "C"), "");
});

test("half is rounded to even, also below zero", () => {
  const halves = [[-5n, -2n], [-3n, -2n], [-1n, 0n], [1n, 0n], [3n, 2n], [5n, 2n]];
  for (const [twice, even] of halves) assert.equal(rounded(twice, 2n), even);
  for (const [over, next] of [[-8n, -3n], [-7n, -2n], [7n, 2n], [8n, 3n], [9n, 3n]]) assert.equal(rounded(over, 3n), next);
});

test("up is the next whole number, and the same where it is one", () => {
  for (const [over, next] of [[0n, 0n], [1n, 1n], [9n, 1n], [10n, 1n], [11n, 2n]]) assert.equal(up(over, 10n), next);
});

test("a fine scale shows all of its step: 0.05 g is two decimals, 1 g one, 0.1 g of a pound four", () => {
  // 453.59237 g to the pound: 0.1 g is 0.00022 lb, so that four decimals are the first whose step is not coarser.
  assert.equal(writeAmount(1230000n, "g", 10000n), "1.23\u00a0g");
  assert.equal(writeAmount(1250000n, "g", 50000n), "1.25\u00a0g");
  assert.equal(writeAmount(1250000n, "g", 1000000n), "1.2\u00a0g");
  assert.equal(writeAmount(1250000n, "g", 100000n), "1.2\u00a0g");
  assert.equal(writeAmount(45359237n, "lb", 100000n), "0.1\u00a0lb");
  assert.equal(writeAmount(35000000n, "oz", 28350n), "1.235\u00a0oz");
  assert.equal(writeAmount(45400000n, "lb", 100000n), "0.1001\u00a0lb");
  // Whatever can be weighed may be read in each of these.
  assert.deepEqual(WEIGHTS, ["g", "kg", "oz", "lb"]);
  // No more than six, however fine it is.
  assert.equal(writeAmount(1234567n, "kg", 1n), "0.001235\u00a0kg");
  // Pieces have no decimals, whatever the scale.
  assert.equal(writeAmount(3n, "each", 1n), "3");
});

test("a span of degrees has no zero point: 5 °C are 9 °F", () => {
  const spans = [[5000, "C", "5\u00a0°C"], [5000, "F", "9\u00a0°F"], [-5000, "F", "9\u00a0°F"], [0, "F", "0\u00a0°F"],
    [150, "C", "0.2\u00a0°C"], [250, "C", "0.2\u00a0°C"], [250, "F", "0.4\u00a0°F"], [750, "F", "1.4\u00a0°F"], [-1, "C", "0\u00a0°C"]];
  for (const [milli, scale, words] of spans) {
    assert.equal(writeDegrees(milli, scale), words);
    assert.equal(writeDegrees(BigInt(milli), scale), words);
  }
});

function workedOut(given) {
  return overshoot({
    fragrance: BigInt(given.fragrance), wax: BigInt(given.wax), other: BigInt(given.other), wanted: share(given.wanted),
    fill: whole(given.fill), loss: BigInt(given.loss), maximum: share(given.maximum), maximumOfMelt: share(given.maximum_of_melt),
  });
}

for (const given of table("overshoot").cases) {
  test(`wax to restore a load: ${given.says}`, () => {
    const found = workedOut(given);
    assert.ok(same(found.loadOfWax, share(given.load_of_wax)));
    assert.ok(same(found.loadOfMelt, share(given.load_of_melt)));
    assert.deepEqual(
      [found.waxToAdd, found.melt, found.units, found.aboveMaximum],
      [BigInt(given.wax_to_add), BigInt(given.melt), whole(given.units), given.above_maximum],
    );
  });
}

for (const given of table("overshoot").refused) {
  test(`no load: ${given.says}`, () => assert.throws(() => workedOut(given), { name: "RangeError", message: /^Weigh the wax first/ }));
}

test("where no load is wanted no wax is added for it", () => {
  const found = overshoot({ fragrance: 80n, wax: 920n, other: 0n, wanted: [0n, 1n], fill: null, loss: 0n, maximum: null, maximumOfMelt: null });
  assert.deepEqual([found.waxToAdd, found.aboveMaximum], [0n, false]);
});
