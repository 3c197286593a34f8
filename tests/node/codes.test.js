/* Codes of lots and batches, held to the same table as the studio's own. */

import assert from "node:assert/strict";
import { test } from "node:test";

import { codeIn, isValid, normalise, spaced } from "../../studio/static/studio/bench_codes.js";
import { table } from "./tables.js";

const CODES = table("codes");

test("a code is valid or not", () => {
  assert.deepEqual(CODES.valid.map(([code]) => [code, isValid(code)]), CODES.valid);
});

test("what was typed is read as a code is stored", () => {
  assert.deepEqual(CODES.stored.map(([text]) => [text, normalise(text)]), CODES.stored);
});

test("a code is shown in groups of three", () => {
  assert.deepEqual(CODES.spaced.map(([code]) => [code, spaced(code)]), CODES.spaced);
});

test("a code is found in the address that a label holds, and only there", () => {
  const scanned = [
    ["L0001T", "L0001T"],
    [" l00 01t ", "L0001T"],
    ["https://studio.example/lots/L0001T/", "L0001T"],
    ["https://studio.example/batches/B0001T/bench/", "B0001T"],
    ["http://10.0.0.7:8000/trace/l0001t?from=label#top", "L0001T"],
    ["https://studio.example/lots/L0001T#top", "L0001T"],
    ["https://studio.example/items/7/", "HTTPS://STUD10EXAMPLE/1TEMS/7/"],
  ];
  assert.deepEqual(scanned.map(([text]) => [text, codeIn(text)]), scanned);
});
