/* What is to be done and how far it is: the batch as the studio knows it, with what this device has not saved yet laid
   over it. Plain sums; nothing here touches the page. Figures are BigInt in base units. */

import { besideTarget } from "./bench_figures.js";
import { overshoot, percent, rounded, up } from "./bench_sums.js";

const SCENT = "fragrance";
const MILLION = 1000000n;

/** The batch with what waits: { lines, readings, timed }, every line with its pours as BigInt; `timed` are the notes of
 *  what was done for a while, each with its pot. */
export function withWaiting(state, outbox) {
  const taken = new Set(outbox.map((entry) => entry.content.takes_back).filter(Boolean));
  const arrived = new Set(state.entries.map((entry) => entry.key));
  const waiting = outbox.filter((entry) =>
    entry.batch === state.batch.code && !entry.refusal && !taken.has(entry.key) && !arrived.has(entry.key));
  const saved = state.entries.filter((entry) => entry.stands && !taken.has(entry.key));
  const back = new Set(state.entries.filter((entry) => taken.has(entry.key)).map((entry) => entry.key));
  const lines = state.lines.map((line) => ({
    ...line,
    pours: line.pours.map((pour, place) => ({
      target: BigInt(pour.target),
      tolerance: BigInt(pour.tolerance),
      drawn: BigInt(pour.drawn) + change(line, place + 1, waiting, state.entries, back),
    })),
  }));
  const readings = state.readings.filter((reading) => !back.has(reading.entry))
    .map((reading) => ({ ...reading, temperature: BigInt(reading.temperature) }));
  const timed = saved.filter((entry) => entry.note_kind).map((entry) => ({ kind: entry.note_kind, pour: entry.pour }));
  for (const { content, at } of waiting) {
    const { pour } = content;
    if (content.kind === "reading") readings.push({ kind: content.reading, temperature: BigInt(content.temperature), at, pour });
    if (content.kind === "note" && content.note_kind) timed.push({ kind: content.note_kind, pour });
  }
  return { lines, readings, timed };
}

/** What there is of a kind for a pot: the last of what names it, else of what names none, which fills from the first
 *  the pots that have none of their own. */
export function ofPot(rows, kind, pour) {
  const found = rows.filter((row) => row.kind === kind);
  const own = (pot) => found.filter((row) => row.pour === pot).at(-1);
  const loose = found.filter((row) => !row.pour);
  for (let pot = 1; pot < pour; pot += 1) if (!own(pot)) loose.shift();
  return own(pour) ?? loose[0];
}

/** What waits of a line and pour: what was entered, less what is being taken back. */
function change(line, pour, waiting, entries, back) {
  let amount = 0n;
  for (const { content } of waiting) {
    if (content.kind === "draw" && content.line === line.id && (content.pour ?? 1) === pour) {
      amount += BigInt(content.quantity);
    }
  }
  for (const entry of entries) {
    if (entry.kind !== "draw" || entry.line !== line.id || (entry.pour ?? 1) !== pour) continue;
    const counts = entry.stands && !back.has(entry.key);
    if (entry.fresh && counts) amount += BigInt(entry.quantity);
    if (!entry.fresh && (entry.goneSince || (entry.stands && !counts))) amount -= BigInt(entry.quantity);
  }
  return amount;
}

/** The steps in the order one works, pot by pot, each with whether it is done. */
export function stepsOf(state, work) {
  const steps = [];
  const { process } = state;
  const pots = state.pours.length;
  const add = (kind, what, pour, done, more = {}) => {
    const name = `${kind}:${more.line?.id ?? more.reading ?? more.note}:${pour}`;
    steps.push({ id: name, kind, name: what, pour, pots, done, ...more });
  };
  const weigh = (line, pour) => {
    const { target, drawn } = line.pours[pour - 1];
    const done = drawn > 0n && besideTarget(line.pours[pour - 1]) !== "under";
    if (target > 0n) add("line", line.name, pour, done, { line, pots: line.in_melt ? pots : 1 });
  };
  const read = (kind, what, pour) => add("read", what, pour, Boolean(ofPot(work.readings, kind, pour)), { reading: kind });
  const melt = work.lines.filter((line) => line.in_melt);
  const scents = melt.filter((line) => line.kind === SCENT);
  // Wick and vessel stand ready before the first pot is poured; lids and labels wait until it has set.
  const [before, after] = [true, false].map((first) =>
    work.lines.filter((line) => !line.in_melt && ["wick", "vessel"].includes(line.kind) === first));
  for (let pour = 1; pour <= pots; pour += 1) {
    melt.filter((line) => line.basis === "wax_share").forEach((line) => weigh(line, pour));
    if (process.heat !== null) read("melt", "Heat the wax", pour);
    melt.filter((line) => line.basis !== "wax_share" && line.kind !== SCENT).forEach((line) => weigh(line, pour));
    if (process.fragrance !== null && scents.length) read(SCENT, "Temperature for the fragrance", pour);
    scents.forEach((line) => weigh(line, pour));
    if (process.stir_minutes) {
      add("time", "Stir", pour, Boolean(ofPot(work.timed, "stirred", pour)), { note: "stirred", seconds: process.stir_minutes * 60 });
    }
    if (pour === 1) before.forEach((line) => weigh(line, 1));
    if (process.pour_from !== null || process.pour_to !== null) {
      // How warm the room is matters to the pour, and nothing waits for it.
      if (pour === 1) add("read", "Room temperature", 1, Boolean(ofPot(work.readings, "room", 1)), { reading: "room", optional: true, pots: 1 });
      read("pour", "Pour", pour);
    }
  }
  after.forEach((line) => weigh(line, 1));
  if (process.rest_hours) {
    add("time", "Rest", 1, Boolean(ofPot(work.timed, "rested", 1)), { note: "rested", seconds: process.rest_hours * 3600, pots: 1 });
  }
  return steps;
}

/** The first step that is not done after one, else the first of all; the same when all are done. */
export function nextOpen(steps, id) {
  const from = steps.findIndex((step) => step.id === id) + 1;
  const later = [...steps.slice(from), ...steps.slice(0, from)];
  return (later.find((step) => !step.done && !step.optional) ?? steps[Math.max(from - 1, 0)])?.id ?? null;
}

/** The window a temperature should lie in, in thousandths of °C: [low, high], either null. */
export function windowOf(process, kind) {
  if (kind === "melt") return [process.heat, process.heat];
  if (kind === SCENT) return [process.fragrance, process.fragrance];
  if (kind === "pour") return [process.pour_from, process.pour_to];
  return [null, null];
}

/** The cautions of one step, as the studio words them; none where the state was kept by an older page. */
export function careOf(state, step) {
  const of = state.at_step ?? {};
  const { line, reading, note } = step;
  if (line?.in_melt && line.kind === SCENT) return of[`line:${line.id}`] ?? [];
  if (reading === SCENT) return of.fragrance ?? [];
  if (reading === "melt" || (line?.in_melt && line.basis !== "wax_share")) return of.melt ?? [];
  if (reading === "pour" || note === "stirred") return of.pour ?? [];
  if (note === "rested") return of.finish ?? [];
  return [];
}

/** The fragrances of the melt that a melt this hot would make burn: those at or below it. */
export function flashing(work, temperature) {
  const scents = work.lines.filter((line) => line.in_melt && line.kind === SCENT);
  return scents.filter((line) => line.flash !== null && temperature >= BigInt(line.flash));
}

/** The load of one pot, and what follows where it is over: what `overshoot` gives, with whose maximum it is above.
 *  `adding` is what stands on the scale for a line now. Wax and the rest count as planned until they are weighed;
 *  recovered melt counts by what is in it, and what nobody knows of it as wax, so that the load is at least what is
 *  said; `unknown` says so. Null where there is no wax or no fragrance. */
export function loadOf(state, work, pour, lineId, adding) {
  const pot = (line) => line.pours[pour - 1];
  const melt = work.lines.filter((line) => line.in_melt && pot(line));
  const weighed = (line) => pot(line).drawn + (line.id === lineId ? adding : 0n);
  const counted = (line) => (weighed(line) >= pot(line).target - pot(line).tolerance ? weighed(line) : pot(line).target);
  const scented = (line) => (line.id === lineId || weighed(line) > 0n ? weighed(line) : pot(line).target);
  // Everything below is so many times as much, so that every share is a whole number.
  const times = melt.flatMap(sharesOf).reduce((product, [, under]) => lcm(product, BigInt(under)), 1n);
  const now = contents(melt, (line) => (line.kind === SCENT && !line.inside ? scented(line) : counted(line)), times);
  const planned = contents(melt, (line) => pot(line).target, times);
  if (!state.wanted || !now.scents.size || now.wax <= 0n) return null;
  const fill = state.fill === null ? null : BigInt(state.fill);
  const figures = { wax: now.wax, fill: fill === null ? null : fill * times, loss: BigInt(state.loss) };
  const scents = [...now.scents.values()];
  const alone = scents.length === 1;
  const judged = (bound, sums) => ({ ...sums, named: exceeded(bound, sums) });
  const bound = alone ? [...now.waxes, ...scents] : now.waxes;
  const found = [judged(bound, overshoot({ ...figures, fragrance: now.scent, other: now.other, wanted: state.wanted.map(BigInt), ...maxima(bound) }))];
  for (const scent of alone ? [] : scents.filter((each) => each.maximum !== null)) {
    const own = { fragrance: scent.amount, other: now.other + now.scent - scent.amount };
    // Where so little is planned for this pot that it comes to nothing on the scale, only the maximum binds.
    const share = planned.scents.get(scent.item).amount;
    const wanted = share > 0n && planned.wax > 0n ? [share, planned.wax] : [BigInt(scent.maximum), MILLION];
    found.push(judged([scent], overshoot({ ...figures, ...own, wanted, ...maxima([scent]) })));
  }
  const waxToAdd = up(found.reduce((most, each) => (each.waxToAdd > most ? each.waxToAdd : most), 0n), times);
  const whole = (now.scent + now.wax + now.other) / times + waxToAdd;
  return {
    ...found[0],
    waxToAdd,
    melt: whole,
    units: fill === null ? null : (whole * MILLION) / (fill * (MILLION + figures.loss)),
    aboveMaximum: found.some((each) => each.aboveMaximum),
    named: found.filter((each) => each.aboveMaximum).map((each) => each.named).join("; "),
    unknown: melt.map((line) => line.inside?.words ?? "").filter(Boolean).join(" "),
  };
}

/** A load in words, or the least it can be where not all that is in the melt is known. */
export function loadWords({ loadOfWax, loadOfMelt, unknown }) {
  const known = `${percent(loadOfWax)} of wax = ${percent(loadOfMelt)} of melt`;
  return unknown ? `at least ${known}` : known;
}

/** Whether a line brings fragrance: as one, or in recovered melt. */
export function bringsScent(line) {
  return line.in_melt && (line.kind === SCENT || Boolean(line.inside && BigInt(line.inside.scent[0]) > 0n));
}

function sharesOf({ inside }) {
  return inside ? [inside.wax, inside.scent, inside.unknown, ...inside.parts.map((part) => part.share)] : [];
}

/** What some lines make together, `times` as much: what counts as wax, as fragrance, and the rest; each fragrance by its
 *  item, and the waxes, with their maxima. */
function contents(lines, amountOf, times) {
  const sums = { wax: 0n, scent: 0n, other: 0n, scents: new Map(), waxes: [] };
  const share = (amount, [over, under]) => (amount * BigInt(over) * times) / BigInt(under);
  const scent = (part, amount) => {
    const before = sums.scents.get(part.item)?.amount ?? 0n;
    const { item, name, maximum, maximum_basis } = part;
    sums.scents.set(item, { item, name, maximum, maximum_basis, amount: before + amount });
  };
  for (const line of lines) {
    const amount = amountOf(line);
    if (line.inside) {
      const wax = share(amount, line.inside.wax) + share(amount, line.inside.unknown);
      const carried = share(amount, line.inside.scent);
      sums.wax += wax;
      sums.scent += carried;
      sums.other += amount * times - wax - carried;
      sums.waxes.push(line, ...line.inside.parts.filter((part) => part.kind === "wax"));
      line.inside.parts.filter((part) => part.kind === SCENT).forEach((part) => scent(part, share(amount, part.share)));
    } else if (line.basis === "wax_share") {
      sums.wax += amount * times;
      sums.waxes.push(line);
    } else if (line.kind === SCENT) {
      sums.scent += amount * times;
      scent(line, amount * times);
    } else sums.other += amount * times;
  }
  sums.waxes = [...new Map(sums.waxes.map((each) => [each.item, each])).values()];
  return sums;
}

function lcm(one, other) {
  let [big, small] = [one, other];
  while (small) [big, small] = [small, big % small];
  return (one / big) * other;
}

/** How much of a fragrance keeps the load where more wax is in its pot than planned, to the scale's step; null where no
 *  more is. */
export function scentFor(state, work, line, pour) {
  const waxes = work.lines.filter((each) => each.basis === "wax_share" && each.pours[pour - 1]);
  const sum = (amount) => waxes.reduce((total, each) => total + each.pours[pour - 1][amount], 0n);
  const [drawn, target] = [sum("drawn"), sum("target")];
  if (target <= 0n || drawn <= target + sum("tolerance")) return null;
  const division = BigInt(state.division);
  return rounded(line.pours[pour - 1].target * drawn, target * division) * division;
}

function maxima(lines) {
  const least = (basis) => {
    const known = lines.filter((line) => line.maximum !== null && line.maximum_basis === basis);
    return known.length ? [BigInt(Math.min(...known.map((line) => line.maximum))), MILLION] : null;
  };
  return { maximum: least("of_wax"), maximumOfMelt: least("of_melt") };
}

/** Which of the maxima of some lines the load as weighed is above, in words; none that is kept. */
function exceeded(lines, { loadOfWax, loadOfMelt }) {
  const basis = { of_wax: "of wax", of_melt: "of melt" };
  const load = { of_wax: loadOfWax, of_melt: loadOfMelt };
  const over = (line) => load[line.maximum_basis][0] * MILLION > BigInt(line.maximum) * load[line.maximum_basis][1];
  const known = lines.filter((line) => line.maximum !== null && over(line));
  return known.map((line) => `${line.maximum / 10000} % ${basis[line.maximum_basis]} for ${line.name}`).join(", ");
}

/** What the wax that is added in whole steps of the scale makes of a pot: its melt, whether the pot takes that, and how
 *  many vessels it fills. */
export function withWax(state, load, wax) {
  const melt = Object.values(wax).reduce((total, amount) => total + BigInt(amount), load.melt - load.waxToAdd);
  const fits = state.pot === null || state.pot === undefined || melt <= BigInt(state.pot);
  return { melt, fits, units: state.fill === null ? null : (melt * MILLION) / (BigInt(state.fill) * (MILLION + BigInt(state.loss))) };
}

/** What a pot holds, once every weight of its melt is in: { melt, planned, off, units }, `off` where it is another weight
 *  than planned. Null before, and where nothing is filled. */
export function meltOf(state, work, pour) {
  const pots = work.lines.filter((line) => line.in_melt && line.pours[pour - 1]?.target > 0n).map((line) => line.pours[pour - 1]);
  if (state.fill === null || !pots.length || pots.some(({ drawn, target, tolerance }) => !drawn || drawn < target - tolerance)) return null;
  const sum = (amount) => pots.reduce((total, pot) => total + pot[amount], 0n);
  const [melt, planned, tolerance] = [sum("drawn"), sum("target"), sum("tolerance")];
  const units = (melt * MILLION) / (BigInt(state.fill) * (MILLION + BigInt(state.loss)));
  return { melt, planned, off: melt > planned + tolerance || melt < planned - tolerance, units };
}

/** How wax to be added is shared among the waxes of a formula, each rounded up to the scale's step: by line's key. Only
 *  wax that brings no fragrance of its own; none where the formula has none. */
export function sharedWax(work, pour, waxToAdd, division) {
  const waxes = work.lines.filter((line) => line.basis === "wax_share" && !bringsScent(line) && line.pours[pour - 1]?.target > 0n);
  const all = waxes.reduce((total, line) => total + line.pours[pour - 1].target, 0n);
  return Object.fromEntries(waxes.map((line) => {
    const part = up(waxToAdd * line.pours[pour - 1].target, all);
    return [line.id, String(up(part, division) * division)];
  }));
}
