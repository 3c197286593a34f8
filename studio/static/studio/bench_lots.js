/* Which lot: taken from the plan, scanned or typed, and stopped at where it is the wrong one. */

import { codeIn, isValid, spaced } from "./bench_codes.js";
import { toTake } from "./bench_figures.js";
import { Weighing } from "./bench_weighing.js";
import { fill, make, part, press, show } from "./bench_screen.js";
import { entryText, writeAmount } from "./bench_sums.js";

/** A bench that knows its lots. */
export class Lots extends Weighing {
  lot() {
    return this.place.lot === null ? null : (this.lots().get(this.place.lot) ?? null);
  }

  /** The lots the plan says, the next one first; those that a draw emptied on this device left out. Where more is wanted
   *  than was planned, or one pot lacks what another got too much of: those that are in it already, else what may be used. */
  picks(line) {
    const lots = this.lots();
    const planned = line.picks.filter((pick) => lots.has(pick.lot) && this.onHand(lots.get(pick.lot)) > 0n);
    if (planned.length || !(this.isExtra || this.wanted() > 0n)) return planned;
    const usable = [...lots.values()].filter((lot) => lot.item === line.item && !lot.stop && this.onHand(lot) > 0n);
    const used = usable.filter((lot) => line.used?.includes(lot.id));
    return (used.length ? used : usable.slice(0, 3)).map((lot) => ({ lot: lot.id, quantity: String(this.onHand(lot)) }));
  }

  paintLot(choosing) {
    const { line } = this.step;
    const lot = this.lot();
    show("choose", choosing);
    show("chosen", !choosing);
    if (lot) {
      fill("chosen", [lot, line.id],
        make("p", { class: "bench-lot-code" }, make("span", { class: "code" }, spaced(lot.code)), " ", make("span", { class: "bench-lot-place" }, lot.place)),
        make("p", { class: "muted" }, [`holds ${writeAmount(this.onHand(lot), line.unit)} by the books`, lot.expires && `expires ${lot.expires}`].filter(Boolean).join(" · ")),
        lot.tone === "good" ? null : make("p", {}, make("span", { class: `state ${lot.tone}` }, lot.word)),
        press("Another lot", () => this.set({ lot: null })));
      return;
    }
    const picks = this.picks(line);
    const lots = this.lots();
    // Suggested for the whole run; of it only what this step still wants.
    const wanted = this.wanted();
    const shares = toTake(picks.map((pick) => [BigInt(pick.quantity), this.onHand(lots.get(pick.lot))]), wanted, this.isExtra);
    fill("lots", [line.id, String(wanted), picks.map((pick) => [pick, lots.get(pick.lot)])],
      picks.map((pick, place) => {
        const found = lots.get(pick.lot);
        const take = shares[place] > 0n ? `take ${writeAmount(shares[place], line.unit)}` : "nothing more to take";
        return make("li", {}, make("button", { type: "button", class: "bench-pick", "data-same": `lot${found.id}`, on: { click: () => this.useLot(found, true) } },
          make("span", { class: "code" }, spaced(found.code)), make("span", { class: "bench-lot-place" }, found.place || "no place is written down"), make("span", { class: "muted" }, take)));
      }),
      picks.length ? null : make("li", { class: "muted" }, "No lot that may be used is known here. Scan or type one."));
  }

  useLot(lot, agreedTo = false) {
    const { line } = this.step;
    this.stop = null;
    if (lot.item !== line.item) {
      const other = this.steps.find((step) => step.line?.item === lot.item && !step.done) ?? this.steps.find((step) => step.line?.item === lot.item);
      const right = this.picks(line).map((pick) => spaced(this.lots().get(pick.lot).code))[0];
      this.halt(`Lot ${spaced(lot.code)} is ${lot.item_name}, not ${line.name}. ${right ? `Take ${right}.` : `Take a lot of ${line.name}.`}`,
        other ? [[`Go to ${lot.item_name}`, () => { this.goTo(other.id); this.useLot(lot); }]] : []);
    } else if (lot.stop) this.halt(lot.stop);
    else if (!agreedTo && this.picks(line).length && !this.picks(line).some((pick) => pick.lot === lot.id)) {
      const planned = this.picks(line).map((pick) => spaced(this.lots().get(pick.lot).code)).join(", ");
      this.halt(`Lot ${spaced(lot.code)} is ${line.name}, but the plan says ${planned}. Another lot widens a recall.`,
        [[`Use ${spaced(lot.code)} all the same`, () => this.useLot(lot, true)]]);
    } else {
      const more = { lot: lot.id };
      if (line.dimension !== "mass" && !this.place.gross) {
        const left = this.wanted();
        const most = this.onHand(lot);
        more.gross = left > 0n ? entryText(left < most ? left : most, line.unit) : "";
        more.prefilled = true;
      }
      this.set(more);
      // What had the focus is gone from the page; without it a keyboard begins at the top again.
      part("name").focus({ preventScroll: true });
      // Somebody else may be at the same pot.
      this.sender.go();
    }
  }

  halt(sentence, presses = []) {
    this.stop = { sentence, presses };
    this.paint();
  }

  async scanned(text) {
    const code = codeIn(text);
    this.said = "";
    const lot = [...this.lots().values()].find((each) => each.code === code);
    if (lot) return this.place.step && this.step.kind === "line" ? this.useLot(lot) : this.toLot(lot);
    if (code === this.state.batch.code) return this.halt(`${spaced(code)} is this batch's own code. Scan the label of a lot.`);
    if (!isValid(code)) return this.halt(`“${text.slice(0, 60)}” is no code of ours: a figure or letter is wrong or missing. Scan it again, or compare it with the label.`);
    const found = await this.sender.lotOf(code);
    if (found === undefined) return this.halt(`Lot ${spaced(code)} is not known on this device, and there is no network to ask. Take a lot that is listed, or wait.`);
    if (!found) return this.halt(`There is no lot ${spaced(code)}. Compare it with the label.`);
    this.known.set(found.id, found);
    return this.step?.kind === "line" ? this.useLot(found) : this.toLot(found);
  }

  /** Scanned where nothing is being weighed: to where it is wanted. */
  toLot(lot) {
    const step = this.steps.find((each) => each.line?.item === lot.item && !each.done) ?? this.steps.find((each) => each.line?.item === lot.item);
    if (!step) return this.halt(`Lot ${spaced(lot.code)} is ${lot.item_name}, which this batch does not need.`);
    this.goTo(step.id);
    return this.useLot(lot);
  }
}
