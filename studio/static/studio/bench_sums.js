/* Exact sums for the bench: whole numbers as BigInt, fractions as [over, under]. Weights are in micrograms.
   Rounded half to even, as everywhere in the studio (NIST SP 811 B.7). */

// The size of a unit in base units (micrograms, pieces, micrometres), and how many decimals it is usually shown with.
const UNITS = {
  mg: { size: [1000n, 1n], places: 0 },
  g: { size: [1000000n, 1n], places: 1 },
  kg: { size: [1000000000n, 1n], places: 3 },
  oz: { size: [28349523125n, 1000n], places: 2 },
  lb: { size: [453592370n, 1n], places: 3 },
  each: { size: [1n, 1n], places: 0 },
  mm: { size: [1000n, 1n], places: 0 },
  cm: { size: [10000n, 1n], places: 1 },
  m: { size: [1000000n, 1n], places: 2 },
  in: { size: [25400n, 1n], places: 2 },
  ft: { size: [304800n, 1n], places: 2 },
};
export const WEIGHTS = ["g", "kg", "oz", "lb"];
export const MOST = 10n ** 15n;
// In thousandths of °C, as the studio takes them.
const LOWEST = -50000n;
const HIGHEST = 400000n;
const MINUS = "\u2212";
const NBSP = "\u00a0";
const MILLION = 1000000n;

/** Over/under as a whole number, half to even. `under` is above zero. */
export function rounded(over, under) {
  const low = over >= 0n || over % under === 0n ? over / under : over / under - 1n;
  const twice = 2n * (over - low * under);
  if (twice < under) return low;
  if (twice > under) return low + 1n;
  return low % 2n === 0n ? low : low + 1n;
}

/** Over/under rounded up to a whole number, both not below zero. */
export function up(over, under) {
  return (over + under - 1n) / under;
}

// The studio's own grammar of numbers: a point for decimals, commas between thousands alone. Both sides are held to one
// table, tests/vectors/numbers.json.
const PLAIN = /^\d*\.?\d+$/;
const GROUPED = /^[1-9]\d{0,2}(?:,\d{3})+(?:\.\d+)?$/;
const MOST_CHARS = 40;

/** A typed number as [its figures as a whole number, how many of them are decimals]; null when it is none. */
function readDecimal(text, places) {
  const typed = text.trim();
  if (typed.length > MOST_CHARS || !(PLAIN.test(typed) || GROUPED.test(typed))) return null;
  const [whole, after = ""] = typed.replaceAll(",", "").split(".");
  return after.length > places ? null : [BigInt(whole + after), after.length];
}

/** The amount in base units that was typed in a unit; null when it is none, too small to keep, or too much. */
export function readAmount(text, unit) {
  const number = readDecimal(text, 12);
  if (!number) return null;
  const [figures, places] = number;
  const [over, under] = UNITS[unit].size;
  const parts = under * 10n ** BigInt(places);
  if (unit === "each" && figures % parts) return null;
  const amount = rounded(figures * over, parts);
  return amount > MOST || (figures && !amount) ? null : amount;
}

/** What is wrong with a number that cannot be read, as the studio says it; "" while it may still become one. */
export function misread(text) {
  const typed = text.trim();
  if (!/[.,]/.test(typed) || /[.,]$/.test(typed) || PLAIN.test(typed) || GROUPED.test(typed)) return "";
  if (/^[\d.]*\.\d*,\d+$/.test(typed)) return "Use a point for decimals and commas only between thousands, for example 1,250.5.";
  const [whole, after, ...more] = typed.split(",");
  if (after && !more.length && !typed.includes(".")) return `Write decimals with a point: ${whole || "0"}.${after}`;
  if (typed.split(".").length > 2) return "Use only one decimal point, and commas between thousands, for example 1,250.5.";
  return "Put commas only between groups of three figures, for example 1,250.5, or leave them out.";
}

/** Why an amount that reads as a number is none that can be kept, as the studio says it; "" where it can. */
export function beyond(text, unit) {
  const number = readDecimal(text, 12);
  if (!number || readAmount(text, unit) !== null) return "";
  const [figures, places] = number;
  const kind = unit === "each" ? "count" : unit in { mm: 1, cm: 1, m: 1, in: 1, ft: 1 } ? "length" : "mass";
  if (kind === "count" && figures % 10n ** BigInt(places)) return "Pieces are counted whole; enter a whole number, for example 12.";
  const [over, under] = UNITS[unit].size;
  return figures * over > MOST * under * 10n ** BigInt(places)
    ? `That is more than ${{ mass: "1,000,000 kg", count: "1,000,000,000,000,000", length: "1,000,000 km" }[kind]}; check the unit and the zeros.`
    : `That is too small to keep; enter at least ${{ mass: "0.001 mg", count: "1", length: "0.001 mm" }[kind]}.`;
}

/** Why a temperature that reads as a number is none that is kept, as the studio says it; "" where it can be. */
export function beyondHeat(text, scale) {
  if (!readDecimal(text.trim().replace(/^[-\u2212]/, ""), 3) || readTemperature(text, scale) !== null) return "";
  const [low, high] = [LOWEST, HIGHEST].map((milli) => writeTemperature(milli, scale));
  return `Enter a temperature between ${low} and ${high}; check the number and whether it is in °C or °F.`;
}

/** A value of 10^-places as text, with commas between thousands and no zeros at the end. */
function decimal(scaled, places) {
  const digits = String(scaled).padStart(places + 1, "0");
  const whole = digits.slice(0, digits.length - places).replace(/\B(?=(\d{3})+(?!\d))/g, ",");
  const after = digits.slice(digits.length - places).replace(/0+$/, "");
  return places && after ? `${whole}.${after}` : whole;
}

/** How many decimals show a step of the scale in a unit: at least the usual ones. */
function placesFor(unit, division) {
  const [over, under] = UNITS[unit].size;
  let places = UNITS[unit].places;
  while (places < 6 && division > 0n && division * under * 10n ** BigInt(places) < over) places += 1;
  return places;
}

/** An amount in base units for the eye: "1,250 g", or "12" for pieces. `division`: the scale's smallest step. */
export function writeAmount(amount, unit, division = 0n) {
  const [over, under] = UNITS[unit].size;
  const places = unit === "each" ? 0 : placesFor(unit, division);
  const size = amount < 0n ? -amount : amount;
  const scaled = rounded(size * under * 10n ** BigInt(places), over);
  const least = size > 0n && scaled === 0n;
  const beyondLeast = least ? (amount < 0n ? "> " : "<") : "";
  const number = `${beyondLeast}${amount < 0n ? MINUS : ""}${decimal(least ? 1n : scaled, places)}`;
  return unit === "each" ? number : `${number}${NBSP}${unit}`;
}

/** An amount in base units to fill a field with: the shortest plain decimal that reads back the same. */
export function entryText(amount, unit) {
  const [over, under] = UNITS[unit].size;
  for (let places = 0; places <= 12; places += 1) {
    const scaled = rounded(amount * under * 10n ** BigInt(places), over);
    const text = decimal(scaled, places).replaceAll(",", "");
    if (readAmount(text, unit) === amount) return text;
  }
  return "";
}

/** A share as a percentage to two decimals: [2n, 25n] is "8 %". */
export function percent([over, under]) {
  return `${decimal(rounded(over * 10000n, under), 2)}${NBSP}%`;
}

/** A temperature typed in °C or °F, in thousandths of °C; null when it is none or cannot be in a studio. */
export function readTemperature(text, scale) {
  const match = /^([-\u2212]?)(.*)$/.exec(text.trim());
  const number = readDecimal(match[2], 3);
  if (!number) return null;
  const milli = number[0] * 10n ** BigInt(3 - number[1]) * (match[1] ? -1n : 1n);
  const celsius = scale === "F" ? rounded((milli - 32000n) * 5n, 9n) : milli;
  return celsius < LOWEST || celsius > HIGHEST ? null : celsius;
}

/** Thousandths of °C for the eye: "85 °C". */
export function writeTemperature(milli, scale) {
  const celsius = BigInt(milli);
  const tenths = scale === "F" ? rounded(celsius * 9n + 160000n, 500n) : rounded(celsius, 100n);
  return `${tenths < 0n ? MINUS : ""}${decimal(tenths < 0n ? -tenths : tenths, 1)}${NBSP}°${scale}`;
}

/** A span in thousandths of °C for the eye. */
export function writeDegrees(milli, scale) {
  const span = BigInt(milli < 0 ? -milli : milli);
  const tenths = scale === "F" ? rounded(span * 9n, 500n) : rounded(span, 100n);
  return `${decimal(tenths, 1)}${NBSP}°${scale}`;
}

const above = ([over, under], most) => most !== null && over * most[1] > most[0] * under;

/** What follows when fragrance went over: the same sums as the studio's own. Shares are [over, under] or null.
 *  { loadOfWax, loadOfMelt, waxToAdd, melt, units, aboveMaximum } */
export function overshoot({ fragrance, wax, other, wanted, fill, loss, maximum, maximumOfMelt }) {
  if (wax <= 0n || fragrance < 0n || other < 0n) throw new RangeError("Weigh the wax first.");
  const loadOfWax = [fragrance, wax];
  const loadOfMelt = [fragrance, fragrance + wax + other];
  // Of what may not be in it at all no wax makes little enough.
  const needed = wanted[0] > 0n ? [up(fragrance * wanted[1], wanted[0])] : [];
  if (maximum !== null && maximum[0] > 0n) needed.push(up(fragrance * maximum[1], maximum[0]));
  if (maximumOfMelt !== null && maximumOfMelt[0] > 0n) needed.push(up(fragrance * maximumOfMelt[1], maximumOfMelt[0]) - fragrance - other);
  const most = needed.reduce((one, two) => (one > two ? one : two), 0n);
  const waxToAdd = most > wax ? most - wax : 0n;
  const melt = fragrance + wax + other + waxToAdd;
  return {
    loadOfWax,
    loadOfMelt,
    waxToAdd,
    melt,
    units: fill === null ? null : (melt * MILLION) / (fill * (MILLION + loss)),
    aboveMaximum: above(loadOfWax, maximum) || above(loadOfMelt, maximumOfMelt),
  };
}
