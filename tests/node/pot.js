/* Batches for the tests of what follows from weights: as the studio tells the tablet of them, the least that is asked. */

/** A line of the melt or beside it. `pours` are [target, drawn, tolerance] by pot. */
export function line(id, kind, pours, more = {}) {
  return {
    id, item: id, name: kind, kind, in_melt: ["wax", "fragrance", "dye", "additive"].includes(kind), unit: "g",
    basis: kind === "wax" ? "wax_share" : "of_wax", maximum: null, maximum_basis: "", flash: null, inside: null, picks: [],
    pours: pours.map(([target, drawn, tolerance]) => ({ target: BigInt(target), drawn: BigInt(drawn), tolerance: BigInt(tolerance ?? 0) })),
    ...more,
  };
}

/** What a batch asks; every figure as it comes with the page. */
export function state(more = {}) {
  return {
    batch: { code: "B0001T" }, wanted: ["1", "10"], fill: null, loss: 0, pot: null, division: 1, pours: [10], lines: [], entries: [], readings: [],
    process: { heat: null, fragrance: null, pour_from: null, pour_to: null, stir_minutes: null, rest_hours: null },
    ...more,
  };
}
