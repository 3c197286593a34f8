/* Tables of tests/vectors/, with their whole numbers and shares as the bench's scripts take them. */

import { readFileSync } from "node:fs";

const WHERE = new URL("../vectors/", import.meta.url);

/** A table by its name; `STUDIO_TABLES` names another folder, where somebody else wrote one. */
export function table(name) {
  const folder = process.env.STUDIO_TABLES ? new URL(`file://${process.env.STUDIO_TABLES}/`) : WHERE;
  return JSON.parse(readFileSync(new URL(`${name}.json`, folder), "utf8"));
}

/** "2/25" as [2n, 25n]; null stays null. */
export function share(text) {
  return text === null ? null : text.split("/").map(BigInt);
}

/** Whether two shares are the same, however they are written. */
export function same([over, under], [other, below]) {
  return over * below === other * under;
}

/** A whole number as BigInt; null stays null. */
export function whole(number) {
  return number === null ? null : BigInt(number);
}
