/* The load of a pot while it is weighed, what brings it back, and what its melt fills. Weights are worked by hand, in any
   one unit; a maximum is in parts per million. That loads agree with the studio's own is in judging.test.js. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { bringsScent, loadOf, loadWords, meltOf, scentFor, sharedWax, withWax } from "../../studio/static/studio/bench_steps.js";
import { line, state } from "./pot.js";
import { same } from "./tables.js";

// 10 % of wax is wanted, and 100 in 1,000 planned.
const wax = (drawn, tolerance = 0, more = {}) => line(1, "wax", [[1000, drawn, tolerance]], more);
const scent = (drawn, tolerance = 0, more = {}) => line(2, "fragrance", [[100, drawn, tolerance]], more);
const load = (lines, { adding = 0n, id = null, ...more } = {}) => loadOf(state(more), { lines }, 1, id, adding);
const pair = (share, over, under) => same(share, [BigInt(over), BigInt(under)]);
const half = (more = {}) => ({ wax: ["1", "2"], scent: ["1", "2"], unknown: ["0", "1"], words: "", parts: [], ...more });

test("what is not weighed yet counts as planned, what is as it is", () => {
  assert.ok(pair(load([wax(0), scent(0)]).loadOfWax, 1, 10));
  assert.ok(pair(load([wax(900), scent(0)]).loadOfWax, 1, 10));
  assert.ok(pair(load([wax(1250), scent(0)]).loadOfWax, 2, 25));
  assert.ok(pair(load([wax(990, 10), scent(0)]).loadOfWax, 10, 99));
  assert.ok(pair(load([wax(989, 10), scent(0)]).loadOfWax, 1, 10));
  // Of fragrance what is in, however little.
  assert.ok(pair(load([wax(0), scent(30)]).loadOfWax, 3, 100));
});

test("what stands on the scale counts with what is in, for its own line alone", () => {
  const adding = { adding: 50n, id: 2 };
  assert.ok(pair(load([wax(0), scent(30)], adding).loadOfWax, 8, 100));
  assert.ok(pair(load([wax(0), scent(0)], adding).loadOfWax, 5, 100));
  assert.ok(pair(load([wax(0), scent(0)], { adding: 0n, id: 2 }).loadOfWax, 0, 1));
  assert.ok(pair(load([wax(1000), scent(100)], { adding: 250n, id: 1 }).loadOfWax, 2, 25));
});

test("of each pot by itself", () => {
  const lines = [line(1, "wax", [[1000, 1000], [500, 500]]), line(2, "fragrance", [[100, 100], [50, 100]])];
  assert.ok(pair(loadOf(state(), { lines }, 1, null, 0n).loadOfWax, 1, 10));
  assert.ok(pair(loadOf(state(), { lines }, 2, null, 0n).loadOfWax, 1, 5));
});

test("fragrance that went over wants so much more wax, which fills so many more vessels", () => {
  // 120 want 1,200 of wax, 200 more; 1,320 of melt with 10 % lost fill 12 of 100. At 15 % nothing is above.
  const found = load([wax(1000, 0, { maximum: 150000, maximum_basis: "of_wax" }), scent(120)], { fill: 100, loss: 100000 });
  assert.deepEqual([found.waxToAdd, found.melt, found.units, found.aboveMaximum, found.named, found.unknown], [200n, 1320n, 12n, false, "", ""]);
  assert.equal(load([wax(1000), scent(119)], { fill: 100, loss: 100000 }).units, 11n);
  assert.equal(load([wax(1000), scent(120)]).units, null);
});

test("what else is in the melt counts to it, weighed or planned", () => {
  const dye = line(3, "dye", [[10, 0]]);
  const found = load([wax(1000), scent(100), dye, line(4, "wick", [[99, 99]])]);
  assert.ok(pair(found.loadOfMelt, 10, 111));
  assert.equal(found.melt, 1110n);
});

test("of two fragrances each is brought below its own maximum, by what is planned of it", () => {
  // 60 and 40 in 1,000. Of the first 90 went in: all of it wants 130 / 0.1 = 1,300 of wax; the first, above 8 %, by its
  // plan of 6 % wants 90 / 0.06 = 1,500, which is 500 more.
  const both = (one, other, planned = 60) => [
    wax(1000), line(2, "fragrance", [[planned, one]], { maximum: 80000, maximum_basis: "of_wax", name: "fig" }), line(3, "fragrance", [[40, other]], { name: "cedar" }),
  ];
  const found = load(both(90, 40));
  assert.deepEqual([found.waxToAdd, found.melt, found.aboveMaximum, found.named], [500n, 1630n, true, "8 % of wax for fig"]);
  assert.ok(pair(found.loadOfWax, 13, 100));
  // The other states no maximum, and asks for nothing of its own.
  assert.equal(load(both(60, 90)).waxToAdd, 500n);
  assert.equal(load(both(60, 40)).waxToAdd, 0n);
  // Where nothing of it is planned for this pot, the maximum alone binds: 90 / 0.08 = 1,125 is less than 1,300.
  assert.equal(load(both(90, 40, 0)).waxToAdd, 300n);
  assert.equal(load(both(160, 0, 0), { wanted: ["1", "5"] }).waxToAdd, 1000n);
});

test("each fragrance of the melt is judged beside the other: of melt", () => {
  // 100 and 100 in 800: each 10 % of melt, at its maximum; one more of the first is above, and one of wax does not do.
  const both = (one) => [
    line(1, "wax", [[800, 800]]), line(2, "fragrance", [[100, one]], { maximum: 100000, maximum_basis: "of_melt", name: "fig" }), line(3, "fragrance", [[100, 100]], { name: "cedar" }),
  ];
  const wanted = { wanted: ["1", "2"] };
  assert.deepEqual([load(both(100), wanted).aboveMaximum, load(both(100), wanted).waxToAdd], [false, 0n]);
  const found = load(both(101), wanted);
  // 101 / 0.1 = 1,010 of melt, so 809 of wax, 9 more; by its plan of 1/8, 808, which is less.
  assert.deepEqual([found.aboveMaximum, found.named, found.waxToAdd], [true, "10 % of melt for fig", 9n]);
});

test("recovered melt counts by what is in it, whatever the shares", () => {
  // 300 of melt: a third wax, a third fragrance, a third dye; 100 + 900 of wax, 100 of fragrance, 100 else.
  const melt = line(3, "additive", [[300, 300]], { basis: "of_melt", inside: half({ wax: ["1", "3"], scent: ["1", "3"], parts: [{ item: 9, name: "fig", kind: "fragrance", maximum: null, maximum_basis: "", share: ["1", "3"] }] }) });
  const found = load([line(1, "wax", [[900, 900]]), melt]);
  assert.ok(pair(found.loadOfWax, 1, 10) && pair(found.loadOfMelt, 1, 12));
  assert.deepEqual([found.waxToAdd, found.melt], [0n, 1200n]);
  // One more of wax is rounded up once, for the whole: a load of 100 in 1,001 at 1/11 wants 1,100.
  assert.equal(load([line(1, "wax", [[901, 901]]), melt], { wanted: ["1", "11"] }).waxToAdd, 99n);
  // A third of one is one as well: 300 thirds of fragrance want 3,001 thirds of wax, and 3,000 are in.
  assert.equal(load([line(1, "wax", [[900, 900]]), melt], { wanted: ["300", "3001"] }).waxToAdd, 1n);
  // Shares of unlike parts: 70/7 and 60/4 of two melts, 10 and 15 of fragrance in 60 + 45 + 145 = 250 of wax.
  const other = (id, weight, parts) => line(id, "additive", [[weight, weight]], { basis: "of_melt", inside: half({ wax: [String(parts - 1), String(parts)], scent: ["1", String(parts)], parts: [{ item: 9, name: "fig", kind: "fragrance", maximum: null, maximum_basis: "", share: ["1", String(parts)] }] }) });
  const mixed = load([line(1, "wax", [[145, 145]]), other(3, 70, 7), other(4, 60, 4)], { fill: 25 });
  assert.ok(pair(mixed.loadOfWax, 1, 10));
  assert.deepEqual([mixed.melt, mixed.units], [275n, 11n]);
});

test("what nobody knows of melt counts as wax, and is said", () => {
  const melt = line(3, "additive", [[100, 100]], { basis: "of_melt", inside: half({ wax: ["0", "1"], scent: ["0", "1"], unknown: ["1", "1"], words: "What is in it is not known." }) });
  const found = load([line(1, "wax", [[900, 900]]), scent(100), melt]);
  assert.ok(pair(found.loadOfWax, 1, 10));
  assert.equal(found.unknown, "What is in it is not known.");
  assert.equal(loadWords(found), "at least 10\u00a0% of wax = 9.09\u00a0% of melt");
});

test("a load both ways", () => {
  assert.equal(loadWords(load([wax(1000), scent(100)])), "10\u00a0% of wax = 9.09\u00a0% of melt");
});

test("nothing wanted, no wax or no fragrance: no load", () => {
  assert.equal(load([wax(1000), scent(100)], { wanted: null }), null);
  assert.equal(load([wax(1000)]), null);
  assert.equal(load([scent(100)]), null);
  assert.equal(load([line(1, "wax", [[0, 0]]), scent(100)]), null);
});

test("every maximum it is above is named, each once", () => {
  const most = { maximum: 82500, maximum_basis: "of_wax" };
  const found = load([wax(1000, 0, { ...most, name: "soy" }), wax(0, 0, { id: 5, item: 5, ...most, maximum: 200000 }), scent(200, 0, { ...most, name: "fig", maximum_basis: "of_melt" })]);
  assert.equal(found.named, "8.25 % of wax for soy, 8.25 % of melt for fig");
  assert.equal(load([wax(1000, 0, most), wax(1000, 0, { id: 5, ...most }), scent(400)]).named, "8.25 % of wax for wax");
});

test("the least maximum of each basis binds", () => {
  // 150 in 1,000: at 12 % of wax 1,250; at 14 % 1,071.4; at 10 % of melt 1,350.
  const asked = { wanted: ["1", "2"] };
  const two = (one, other, basis) => [wax(1000, 0, { maximum: one, maximum_basis: "of_wax" }), scent(150, 0, { maximum: other, maximum_basis: basis })];
  assert.equal(load(two(120000, 140000, "of_wax"), asked).waxToAdd, 250n);
  assert.equal(load(two(140000, 120000, "of_wax"), asked).waxToAdd, 250n);
  assert.equal(load(two(140000, 140000, "of_wax"), asked).waxToAdd, 72n);
  assert.equal(load(two(120000, 100000, "of_melt"), asked).waxToAdd, 350n);
});

test("fragrance is brought by itself, or in melt", () => {
  assert.deepEqual([scent(0), wax(0), line(3, "dye", [])].map(bringsScent), [true, false, false]);
  assert.equal(bringsScent(scent(0, 0, { in_melt: false })), false);
  const melt = (over) => line(4, "wax", [], { inside: half({ scent: [over, "9"] }) });
  assert.deepEqual([bringsScent(melt("1")), bringsScent(melt("0"))], [true, false]);
});

test("more wax than planned asks for more fragrance, to the scale's step", () => {
  const asked = (drawn, division = 1, tolerance = 0) => scentFor(state({ division }), { lines: [wax(drawn, tolerance), scent(0)] }, scent(0), 1);
  assert.deepEqual([asked(1000), asked(999), asked(1001), asked(1250)], [null, null, 100n, 125n]);
  assert.deepEqual([asked(1010, 1, 10), asked(1011, 1, 10)], [null, 101n]);
  // 125 on a scale of 10 is 120, half to even; 126 and 135 are 130 and 140.
  assert.deepEqual([asked(1250, 10), asked(1260, 10), asked(1350, 10)], [120n, 130n, 140n]);
  // Several waxes count together, those of this pot; what is no wax does not.
  const lines = [line(1, "wax", [[600, 700], [1, 99]]), line(3, "wax", [[400, 500], [1, 99]]), line(4, "dye", [[10, 500], [1, 0]])];
  assert.equal(scentFor(state(), { lines }, scent(0), 1), 120n);
  assert.equal(scentFor(state(), { lines: [line(1, "wax", [[0, 5]])] }, scent(0), 1), null);
});

test("wax to be added is shared as planned, each rounded up to the scale's step", () => {
  const lines = [line(1, "wax", [[600, 0]]), line(3, "wax", [[400, 0]]), line(4, "wax", [[0, 0]]), line(6, "wax", []), scent(0), line(5, "wax", [[500, 0]], { inside: half() })];
  assert.deepEqual(sharedWax({ lines }, 1, 100n, 1n), { 1: "60", 3: "40" });
  assert.deepEqual(sharedWax({ lines }, 1, 101n, 1n), { 1: "61", 3: "41" });
  assert.deepEqual(sharedWax({ lines }, 1, 101n, 5n), { 1: "65", 3: "45" });
  assert.deepEqual(sharedWax({ lines }, 1, 50n, 10n), { 1: "30", 3: "20" });
  assert.deepEqual(sharedWax({ lines: lines.slice(3) }, 1, 100n, 1n), {});
});

test("what the added wax makes of the pot, and whether the pot takes it", () => {
  const found = { melt: 1320n, waxToAdd: 195n };
  const made = (more) => withWax(state({ fill: 100, loss: 100000, ...more }), found, { 1: "120", 3: "80" });
  // 1,125 as weighed and 200 in whole steps; with a tenth lost 110 for each.
  assert.deepEqual(made({}), { melt: 1325n, fits: true, units: 12n });
  assert.deepEqual([made({ pot: 1325 }).fits, made({ pot: 1324 }).fits, made({ pot: undefined }).fits], [true, false, true]);
  assert.equal(made({ fill: null }).units, null);
  assert.equal(withWax(state({ fill: 100 }), found, {}).units, 11n);
});

test("what a pot holds is told once every weight of it is in", () => {
  const asked = state({ fill: 100, loss: 50000 });
  const of = (lines, more = asked) => meltOf(more, { lines }, 1);
  // 1,110 at 105 each fill 10; 1,000 and 100 planned, within 4 and 4 and so 8 together.
  assert.deepEqual(of([wax(1030, 4), scent(80, 4)]), null);
  assert.deepEqual(of([wax(1014, 4), scent(96, 4)]), { melt: 1110n, planned: 1100n, off: true, units: 10n });
  assert.deepEqual([1012, 1013, 996].map((drawn) => of([wax(drawn, 4), scent(96, 4)]).off), [false, true, false]);
  assert.deepEqual([of([wax(996, 4), scent(96, 4)]).off, of([wax(996, 4), scent(96, 3)])], [false, null]);
  assert.deepEqual([of([wax(1000), scent(0)]), of([]), of([line(4, "wick", [[10, 10]])])], [null, null, null]);
  assert.equal(of([wax(1000), scent(100)], state()), null);
  // What this pot wants nothing of, and wicks, are left out; so is a line without this pot.
  assert.equal(of([wax(1000), line(3, "dye", [[0, 5]]), line(4, "wick", [[10, 0]]), line(5, "dye", [])]).melt, 1000n);
});
