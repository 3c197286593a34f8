/* How a figure at the bench stands to what is wanted. Plain sums over BigInt in base units and thousandths of °C;
   nothing here touches the page. */

// A reading this near its aim is at it, in thousandths of a degree; common practice, no source.
const AT_IT = 1000n;
const FAR_TOO_MUCH = 3n;
const MOST_TYPED = 14;

/** Where what went in stands to its target: "under", "within" or "over". */
export function besideTarget({ target, drawn, tolerance }) {
  if (drawn > target + tolerance) return "over";
  return drawn < target - tolerance ? "under" : "within";
}

/** Whether a weight is so far beyond what is still to go that it may be a slip; a few steps of the scale never are. */
export function isFarTooMuch(net, wanted, division) {
  return wanted > 0n && net > FAR_TOO_MUCH * wanted && net > wanted + FAR_TOO_MUCH * division;
}

/** What left a lot: what stands on the scale less what it stands in; null while either is none. Parts have no tare. */
export function netOf(gross, tare, isWeighed) {
  if (gross === null || tare === null) return null;
  return isWeighed ? gross - tare : gross;
}

/** Where a temperature stands to its window [low, high], either null: { word, off }. With two ends "in", "above" or
 *  "below"; with one figure, which is an aim, "at", "over" or "under"; "" where nothing is asked. `off` is how far it is
 *  beyond the end or the aim, not below zero. */
export function besideWindow([low, high], read) {
  const [from, to] = [low ?? high, high ?? low];
  if (from === null) return { word: "", off: 0n };
  const under = BigInt(from) - read;
  const over = read - BigInt(to);
  const isAim = from === to;
  const [off, word] = over > 0n ? [over, isAim ? "over" : "above"] : [under, isAim ? "under" : "below"];
  if (isAim && off <= AT_IT) return { word: "at", off };
  return off > 0n ? { word, off } : { word: "in", off: 0n };
}

/** What stands in a field once a key is pressed: a figure, ".", "," or "back". `anew`: what stood there gives way. */
export function typed(text, char, anew = false) {
  if (char === "back") return text.slice(0, -1);
  const before = anew ? "" : text;
  return char === "." && before.includes(".") ? before : (before + char).slice(0, MOST_TYPED);
}

/** How much to take of each lot that is suggested, in order, and no more than it holds. `picks` are [suggested for the
 *  whole batch, on hand]. Of the last, and where `beyondPlan`, more may be wanted than was planned of it. */
export function toTake(picks, wanted, beyondPlan = false) {
  let left = wanted;
  return picks.map(([suggested, onHand], place) => {
    const holds = onHand > 0n ? onHand : 0n;
    const most = beyondPlan || place === picks.length - 1 ? holds : least(suggested, holds);
    const share = least(left, most);
    left -= share;
    return share;
  });
}

function least(one, other) {
  return one < other ? one : other;
}
