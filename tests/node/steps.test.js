/* What is to be done and how far it is: the order of the steps, whether each is done, and what waits on the device. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { careOf, flashing, nextOpen, ofPot, stepsOf, windowOf, withWaiting } from "../../studio/static/studio/bench_steps.js";
import { line, state } from "./pot.js";

const ALL = { heat: 85000, fragrance: 70000, pour_from: 57000, pour_to: 62000, stir_minutes: 2, rest_hours: 4 };
const NO_WORK = { readings: [], timed: [] };

function ids(asked, lines, work = NO_WORK) {
  return stepsOf(asked, { ...work, lines }).map((step) => step.id);
}

test("one works from the wax to the pour; wick and vessel stand ready before, lid and label wait for what has set", () => {
  const lines = [
    line(1, "label", [[10, 0]]), line(2, "vessel", [[10, 0]]), line(3, "fragrance", [[80, 0]]), line(4, "dye", [[1, 0]]),
    line(5, "wax", [[920, 0]]), line(6, "wick", [[10, 0]]), line(7, "lid", [[10, 0]]),
  ];
  assert.deepEqual(ids(state({ process: ALL }), lines), [
    "line:5:1", "read:melt:1", "line:4:1", "read:fragrance:1", "line:3:1", "time:stirred:1", "line:2:1", "line:6:1",
    "read:room:1", "read:pour:1", "line:1:1", "line:7:1", "time:rested:1",
  ]);
  const said = stepsOf(state({ process: ALL }), { ...NO_WORK, lines }).filter((step) => step.kind !== "line").map((step) => step.name);
  assert.deepEqual(said, ["Heat the wax", "Temperature for the fragrance", "Stir", "Room temperature", "Pour", "Rest"]);
});

test("what the formula does not ask for is no step", () => {
  const lines = [line(1, "wax", [[920, 0]]), line(2, "fragrance", [[0, 0]])];
  const { process } = state();
  assert.deepEqual(ids(state(), lines), ["line:1:1"]);
  // Without fragrance no temperature for it; one end of the window is enough to pour by.
  assert.deepEqual(ids(state({ process: { ...process, fragrance: 70000 } }), lines.slice(0, 1)), ["line:1:1"]);
  for (const end of ["pour_from", "pour_to"]) {
    assert.deepEqual(ids(state({ process: { ...process, [end]: 57000 } }), lines), ["line:1:1", "read:room:1", "read:pour:1"]);
  }
});

test("each pot is worked by itself; what goes with the batch as a whole comes once", () => {
  const lines = [line(1, "wax", [[460, 0], [460, 0]]), line(2, "fragrance", [[40, 0], [40, 0]]), line(3, "wick", [[10, 0], [0, 0]])];
  const steps = stepsOf(state({ pours: [5, 5], process: ALL }), { ...NO_WORK, lines });
  assert.deepEqual(steps.map((step) => step.id), [
    "line:1:1", "read:melt:1", "read:fragrance:1", "line:2:1", "time:stirred:1", "line:3:1", "read:room:1", "read:pour:1",
    "line:1:2", "read:melt:2", "read:fragrance:2", "line:2:2", "time:stirred:2", "read:pour:2", "time:rested:1",
  ]);
  assert.deepEqual(steps.filter((step) => step.pots === 1).map((step) => step.id), ["line:3:1", "read:room:1", "time:rested:1"]);
  assert.deepEqual(steps.filter((step) => step.optional).map((step) => step.id), ["read:room:1"]);
  assert.deepEqual(steps.filter((step) => step.seconds).map((step) => step.seconds), [120, 120, 14400]);
});

test("a weight is done within its tolerance and beyond, and never while nothing is in", () => {
  const done = (target, drawn, tolerance) => stepsOf(state(), { ...NO_WORK, lines: [line(1, "wax", [[target, drawn, tolerance]])] })[0].done;
  assert.deepEqual([done(920, 919, 1), done(920, 918, 1), done(920, 920, 0), done(920, 2000, 1)], [true, false, true, true]);
  assert.deepEqual([done(1, 0, 1), done(5, 0, 9), done(1, 1, 0)], [false, false, true]);
});

test("what was read and how long it took counts for its pot", () => {
  const work = {
    readings: [{ kind: "melt", pour: 2 }, { kind: "pour", pour: null }, { kind: "room", pour: 1 }],
    timed: [{ kind: "stirred", pour: 1 }, { kind: "rested", pour: null }],
  };
  const lines = [line(1, "wax", [[460, 0], [460, 0]]), line(2, "fragrance", [[40, 0], [40, 0]])];
  const done = stepsOf(state({ pours: [5, 5], process: ALL }), { ...work, lines }).filter((step) => step.done);
  assert.deepEqual(done.map((step) => step.id), ["time:stirred:1", "read:room:1", "read:pour:1", "read:melt:2", "time:rested:1"]);
});

test("the last of what names a pot counts; what names none fills the first pots that have none", () => {
  const rows = [
    { kind: "melt", pour: 2, at: 1 }, { kind: "melt", pour: 2, at: 2 }, { kind: "melt", pour: null, at: 3 },
    { kind: "pour", pour: 1, at: 4 }, { kind: "melt", pour: null, at: 5 },
  ];
  assert.deepEqual([1, 2, 3, 4].map((pot) => ofPot(rows, "melt", pot)?.at), [3, 2, 5, undefined]);
  assert.deepEqual([1, 2].map((pot) => ofPot(rows, "pour", pot)?.at), [4, undefined]);
  assert.equal(ofPot(rows, "room", 1), undefined);
  const loose = [{ kind: "melt", pour: null, at: 1 }, { kind: "melt", pour: null, at: 2 }];
  assert.deepEqual([1, 2, 3].map((pot) => ofPot(loose, "melt", pot)?.at), [1, 2, undefined]);
});

test("next is the first open step after this one, then from the beginning; what may be left out is passed over", () => {
  const steps = [{ id: "a", done: false }, { id: "b", done: true }, { id: "c", optional: true }, { id: "d", done: false }];
  assert.deepEqual(["a", "b", "c", "d", null, "x"].map((id) => nextOpen(steps, id)), ["d", "d", "d", "a", "a", "a"]);
  const over = [{ id: "a", done: true }, { id: "b", done: true }];
  assert.deepEqual(["a", "b", null].map((id) => nextOpen(over, id)), ["a", "b", "a"]);
  assert.equal(nextOpen([], null), null);
});

test("the window of a temperature is what the formula asks, by its kind", () => {
  assert.deepEqual(["melt", "fragrance", "pour", "room"].map((kind) => windowOf(ALL, kind)),
    [[85000, 85000], [70000, 70000], [57000, 62000], [null, null]]);
});

test("each step has its own cautions, and none of another's", () => {
  const asked = state({ at_step: { "line:2": ["2"], "line:3": ["3"], melt: ["m"], fragrance: ["f"], pour: ["p"], finish: ["r"] } });
  const of = (step) => careOf(asked, step).join("");
  assert.equal(of({ line: line(2, "fragrance", []) }), "2");
  assert.equal(of({ line: line(4, "fragrance", []) }), "");
  assert.equal(of({ line: line(1, "wax", []) }), "");
  assert.equal(of({ line: line(1, "dye", []) }), "m");
  assert.equal(of({ line: line(3, "wick", []) }), "");
  assert.equal(["fragrance", "melt", "pour", "room"].map((reading) => of({ reading })).join(","), "f,m,p,");
  assert.equal(["stirred", "rested"].map((note) => of({ note })).join(","), "p,r");
  // A state that an older page kept says nothing of cautions.
  assert.deepEqual([{ line: line(2, "fragrance", []) }, { reading: "pour" }, { note: "rested" }].map((step) => careOf(state(), step)), [[], [], []]);
  assert.deepEqual([{ reading: "fragrance" }, { reading: "melt" }].map((step) => careOf(state(), step)), [[], []]);
});

test("a fragrance catches fire at its flash point, not below it", () => {
  const lines = [
    line(1, "wax", [], { flash: 10 }), line(2, "fragrance", [], { flash: 80000 }), line(3, "fragrance", [], { flash: null }),
    line(4, "fragrance", [], { flash: 80001 }), line(5, "fragrance", [], { flash: 0, in_melt: false }),
  ];
  assert.deepEqual(flashing({ lines }, 80000n).map((each) => each.id), [2]);
  assert.deepEqual(flashing({ lines }, 79999n).map((each) => each.id), []);
  assert.deepEqual(flashing({ lines }, 80001n).map((each) => each.id), [2, 4]);
});

// ---- What waits on the device -------------------------------------------------------------------------------------------

const LINES = [
  { id: 1, pours: [{ target: 460, drawn: 100, tolerance: 1 }, { target: 460, drawn: 0, tolerance: 1 }] },
  { id: 2, pours: [{ target: 40, drawn: 0, tolerance: 1 }, { target: 40, drawn: 7, tolerance: 1 }] },
];
const draw = (key, more = {}, entry = {}) =>
  ({ key, batch: "B0001T", refusal: null, at: 1, content: { kind: "draw", line: 1, pour: 1, quantity: "50", ...more }, ...entry });
const saved = (key, more = {}) => ({ key, kind: "draw", line: 1, pour: 1, quantity: 100, stands: true, note_kind: "", ...more });
const drawn = (asked, outbox) => withWaiting(state({ lines: LINES, ...asked }), outbox).lines.map((each) => each.pours.map((pour) => pour.drawn));

test("what waits is laid over what is saved: of its own line, pot and batch alone", () => {
  assert.deepEqual(drawn({}, []), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({}, [draw("a"), draw("b", { pour: 2 }), draw("c", { line: 2, quantity: "3", pour: 2 })]), [[150n, 50n], [0n, 10n]]);
  assert.deepEqual(drawn({}, [draw("a", { pour: undefined }), draw("b", { pour: null })]), [[200n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({}, [draw("a", {}, { batch: "B0002S" })]), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({}, [draw("a", {}, { refusal: { refused: "short" } })]), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({}, [draw("a", { kind: "note" })]), [[100n, 0n], [0n, 7n]]);
});

test("what arrived counts once, whoever told of it", () => {
  // The figures of the studio hold it already; what was laid over them since does not.
  assert.deepEqual(drawn({ entries: [saved("a", { quantity: 50 })] }, [draw("a")]), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { quantity: 50, fresh: true })] }, [draw("a")]), [[150n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { quantity: 50, fresh: true, pour: null })] }, []), [[150n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { quantity: 5, fresh: true, line: 2, pour: 2 })] }, []), [[100n, 0n], [0n, 12n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { fresh: true, kind: "note" })] }, []), [[100n, 0n], [0n, 7n]]);
});

test("what is being taken back no longer counts, whether it waits, was saved, or was laid over", () => {
  const back = (key) => draw("back", { kind: "undo", takes_back: key, line: undefined, quantity: undefined });
  assert.deepEqual(drawn({}, [draw("a"), back("a")]), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a")] }, [back("a")]), [[0n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { fresh: true, quantity: 50 })] }, [back("a")]), [[100n, 0n], [0n, 7n]]);
  // Taken back already: the studio's figures are without it, those of the device from before are not.
  assert.deepEqual(drawn({ entries: [saved("a", { stands: false })] }, []), [[100n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { stands: false, goneSince: true })] }, []), [[0n, 0n], [0n, 7n]]);
  assert.deepEqual(drawn({ entries: [saved("a", { stands: false, fresh: true, goneSince: false })] }, []), [[100n, 0n], [0n, 7n]]);
});

test("readings and times that wait stand beside those that are saved, without what is being taken back", () => {
  const wait = (key, content) => ({ key, batch: "B0001T", refusal: null, at: 9, content });
  const asked = state({
    readings: [{ kind: "melt", temperature: 85000, at: 1, pour: 1, entry: "r1" }, { kind: "pour", temperature: 60000, at: 2, pour: null, entry: null }],
    entries: [
      { key: "r1", kind: "reading", stands: true, note_kind: "" }, { key: "s1", kind: "note", stands: true, note_kind: "stirred", pour: 1 },
      { key: "s2", kind: "note", stands: false, note_kind: "stirred", pour: 2 }, { key: "s3", kind: "note", stands: true, note_kind: "rested", pour: 2 },
    ],
  });
  const outbox = [
    wait("a", { kind: "reading", reading: "fragrance", temperature: "70000", pour: 2 }), wait("b", { kind: "note", note_kind: "stirred", pour: 2 }),
    wait("c", { kind: "note", text: "smells fine" }), wait("d", { kind: "undo", takes_back: "r1" }), wait("e", { kind: "undo", takes_back: "s3" }),
  ];
  const { readings, timed } = withWaiting(asked, outbox);
  assert.deepEqual(readings, [
    { kind: "pour", temperature: 60000n, at: 2, pour: null, entry: null }, { kind: "fragrance", temperature: "70000", at: 9, pour: 2 },
  ].map((reading) => ({ ...reading, temperature: BigInt(reading.temperature) })));
  assert.deepEqual(timed, [{ kind: "stirred", pour: 1 }, { kind: "stirred", pour: 2 }]);
});
