/* What the bench shows: the page's parts filled from the step one is at. Nothing here changes what is kept. */

import { besideTarget } from "./bench_figures.js";
import { clock, fill, make, notice, part, press, say, show } from "./bench_screen.js";
import {
  bringsScent,
  careOf,
  flashing,
  loadOf,
  loadWords,
  nextOpen,
  ofPot,
  scentFor,
  stepsOf,
  withWaiting,
  withWax,
} from "./bench_steps.js";
import { writeAmount, writeTemperature } from "./bench_sums.js";

// More pots than these are listed one in a line.
const POTS_IN_FULL = 3;

/** The frame round a step: where one is, what is saved, what was refused, and the lists. */
export class Frame {
  paint() {
    this.work = withWaiting(this.state, this.store.outbox);
    this.steps = stepsOf(this.state, this.work);
    if (!this.steps.some((step) => step.id === this.place.step)) this.leave(nextOpen(this.steps, null));
    this.step = this.steps.find((step) => step.id === this.place.step) ?? null;
    // While anything is on its way, what is shown may change once more.
    this.root.dataset.sending = this.sender.busy;
    this.paintBar();
    this.paintTimers();
    this.paintSaved();
    this.paintOutbox();
    this.paintUndo();
    this.paintStep();
    this.paintLists();
  }

  paintBar() {
    const needed = this.steps.filter((step) => !step.optional);
    const at = this.steps.indexOf(this.step);
    say("place", this.steps.length ? `${at + 1} of ${this.steps.length}` : "");
    part("progress").max = Math.max(needed.length, 1);
    part("progress").value = needed.filter((step) => step.done).length;
    part("previous").disabled = at <= 0;
    part("next").disabled = at < 0 || at >= this.steps.length - 1;
  }

  /** The steps whose time runs, with the seconds that are left; below zero once it is up. */
  running() {
    return this.steps.filter((step) => this.place.timers[step.id]).map((step) =>
      ({ step, left: step.seconds - Math.floor((Date.now() - this.place.timers[step.id]) / 1000) }));
  }

  /** A time goes on while one does something else: it stays in sight, and is told when it is up. */
  paintTimers() {
    const running = this.running();
    clearTimeout(this.tick);
    if (running.length) this.tick = setTimeout(() => this.paint(), 1000);
    const elsewhere = running.filter(({ step, left }) => step !== this.step && left > 0);
    fill("timers", elsewhere.map(({ step, left }) => [step.id, left]), elsewhere.map(({ step, left }) =>
      press(`${this.named(step)}: ${clock(left)} to go`, () => this.goTo(step.id), { same: step.id })));
    this.up = running.filter(({ left }) => left <= 0).map(({ step }) => step);
    if (this.up.some((step) => !this.told.has(step.id))) navigator.vibrate?.([300, 200, 300]);
    this.told = new Set(this.up.map((step) => step.id));
  }

  named(step) {
    return step.pots > 1 ? `${step.name}, pour ${step.pour}` : step.name;
  }

  paintSaved() {
    const mine = this.sender.mine.length;
    const refused = this.store.outbox.filter((entry) => entry.refusal).length;
    const count = (number) => (number === 1 ? "1 entry is" : `${number} entries are`);
    if (mine) say("saved", `${count(mine)} kept on this device and not yet saved`, "attention");
    else if (refused) say("saved", `${count(refused)} not saved: look below`, "problem");
    else say("saved", "All is saved", "good");
    const why = {
      network: mine ? "No network. What you enter is kept on this device and sent when the network is back." : "",
      "sign-in": "Sign in again; nothing is lost.",
      role: "You may not weigh up any more. Ask the owner; what you entered stays on this device.",
    }[this.sender.held] ?? "";
    const link = this.sender.held === "sign-in" &&
      make("a", { href: `${this.root.dataset.signIn}?next=${encodeURIComponent(location.pathname)}` }, "Sign in");
    const closed = this.state.batch.open ? "" : `This batch is ${this.state.batch.state.toLowerCase()}. Nothing more can be weighed up for it.`;
    const over = this.state.batch.open && this.steps.length > 0 && this.steps.every((step) => step.done || step.optional);
    const up = this.up.filter((step) => step !== this.step);
    const lines = [closed, over, this.store.warning, why, this.said, this.noReload, up.map((step) => step.id)];
    fill("news", [lines, Boolean(link)],
      closed && notice("attention", closed),
      over && notice("good", "Every step is done. ", make("a", { href: this.root.dataset.finish }, "Say what came out")),
      this.store.warning && notice("problem", this.store.warning),
      why && notice("attention", why, link),
      up.map((step) => notice("attention", `${this.named(step)}: time is up.`, press("Go there", () => this.goTo(step.id), { same: `up-${step.id}` }))),
      this.said && notice("", this.said),
      this.noReload && notice("", this.noReload));
  }

  paintOutbox() {
    const rows = this.store.outbox.filter((entry) => entry.refusal || entry.by.id !== this.sender.user.id);
    fill("waiting", [this.state.batch.open, rows.map((entry) => [entry.key, entry.refusal, entry.by.id])], rows.map((entry) => {
      if (entry.by.id !== this.sender.user.id) {
        return notice("attention", `Entered by ${entry.by.name}, not yet saved: ${entry.words}. It waits until ${entry.by.name} signs in on this device.`);
      }
      const { refused, sentence, missing, stopped } = entry.refusal;
      const why = stopped && make("input", { type: "text", id: `why-${entry.key}`, maxlength: 300, autocomplete: "off", "data-same": `why-${entry.key}` });
      return notice("problem", [`Not saved: ${entry.words}. ${sentence}`, why && make("label", { class: "bench-why", for: why.id }, "Why it went in", why)].filter(Boolean),
        why && press("It went in: record it", () => (why.value.trim() ? this.sendAgain(entry, { despite: why.value.trim() }) : why.focus()), { same: `despite-${entry.key}` }),
        refused === "short" && press(`Book ${missing} as found`, () => this.sendAgain(entry, { found: "true" })),
        refused === "meanwhile" && press("It went in as well", () => this.sendAgain(entry, { as_well: "true" })),
        entry.content.kind === "draw" && refused !== "meanwhile" && refused !== "clash" && this.state.batch.open && press("Choose another lot", () => this.openAgain(entry)),
        !["clash", "form", "meanwhile"].includes(refused) && press("Try again", () => this.sendAgain(entry, {})),
        press("Throw it away", () => this.throwAway(entry)));
    }));
  }

  paintUndo() {
    const last = this.state.batch.open ? this.lastEntry() : null;
    show("undo", Boolean(last));
    if (last) say("undo", `Take back: ${last.words}`);
  }

  paintStep() {
    const step = this.step;
    show("step", Boolean(step));
    if (!step) return;
    say("name", step.name);
    const pot = step.pots > 1 ? `Pour ${step.pour} of ${step.pots}` : "";
    const units = step.pots > 1 && this.state.pours[step.pour - 1] ? `${this.state.pours[step.pour - 1]} vessels` : "";
    say("sub", [pot, units, step.line?.kind_words, step.line?.amount_words, step.done ? "done" : "", step.line?.coarse].filter(Boolean).join(" · "));
    const choosing = step.kind === "line" && this.lot() === null;
    show("lot", step.kind === "line");
    show("enter", step.kind === "read" || (step.kind === "line" && !choosing));
    show("time", step.kind === "time");
    const care = careOf(this.state, step);
    show("care", care.length > 0);
    fill("care", care, care.map((sentence) => make("li", {}, sentence)));
    this.paintCautions();
    if (step.kind === "line") {
      this.paintLot(choosing);
      if (!choosing) this.paintWeighing();
    } else if (step.kind === "read") this.paintReading();
    else this.paintTimer();
    this.paintStop();
    const typing = this.state.batch.open;
    part("record").disabled = !typing || !this.ready();
  }

  paintCautions() {
    const found = [];
    const stop = this.potStop();
    // Of the pot at hand; as long as nothing was read in it, of any.
    const melts = this.work.readings.filter((reading) => reading.kind !== "room");
    const last = melts.filter((reading) => !reading.pour || reading.pour === this.step.pour).at(-1) ?? melts.at(-1);
    if (this.step.line?.kind === "fragrance" && last) {
      for (const line of flashing(this.work, last.temperature)) {
        if (line.id === this.step.line.id) found.push(this.flashWords(line, last.temperature));
      }
    }
    const loose = this.work.lines.filter((line) => line.loose).map((line) => line.name);
    if (loose.length && (this.step.line?.in_melt || this.step.reading === "pour")) {
      found.push(`${loose.join(" and ")}: some weights do not say their pot, or name one that the formula does not plan, so what is in this pot and its load are not known. They are counted into the first pots.`);
    }
    if (this.step.line?.short) found.push(`Short by ${this.step.line.short}: no lot that may be used covers it.`);
    const weak = this.step.reading === "pour" || (this.isScent(this.step) && !this.isExtra) ? this.weak(this.step) : [];
    fill("cautions", [found, stop && [stop.sentence, Boolean(stop.wax)], weak.map(({ sentence }) => sentence), this.state.batch.open],
      weak.map(({ sentence, line, rest }) => notice("attention", sentence, this.state.batch.open && press(`Weigh ${rest.words}`, () => this.addScent(line, this.step.pour, rest.amount)))),
      stop && notice("problem", stop.sentence, stop.wax && press("Add the wax now", () => this.addWax(this.step.pour, stop.wax))),
      found.map((sentence) => notice("attention", sentence)));
  }

  /** The load of a pot, once there is fragrance in it: { load, wax }, the wax that brings it back by line's key. */
  potLoad(pour) {
    const scented = this.work.lines.some((line) => bringsScent(line) && line.pours[pour - 1]?.drawn > 0n);
    const load = scented ? loadOf(this.state, this.work, pour, null, 0n) : null;
    const wax = load?.waxToAdd > 0n ? this.waxFor(pour, load.waxToAdd) : {};
    return load && { load, wax: Object.keys(wax).length ? wax : null };
  }

  /** At every step that follows the fragrance of a pot: a melt above a maximum is not to be poured. */
  potStop() {
    const { step } = this;
    if (step.line?.in_melt || step.note === "rested" || step.reading === "melt") return null;
    const { load, wax } = this.potLoad(step.pour) ?? {};
    if (!load?.aboveMaximum) return null;
    const found = loadWords(load);
    if (ofPot(this.work.readings, "pour", step.pour)) {
      const sentence = `This pot was poured with a load of ${found}, above the maximum of ${load.named}. What comes of it is on hold until the owner decides.`;
      return { sentence, said: sentence, wax: null };
    }
    const above = `the load is ${found}, above the maximum of ${load.named}.`;
    const made = wax && withWax(this.state, load, wax);
    const line = this.work.lines.find((each) => each.basis === "wax_share");
    const shown = (amount) => writeAmount(amount, line.unit, this.division);
    const small = made && !made.fits
      ? ` With the wax that brings it back the melt would be ${shown(made.melt)}; the pot takes ${shown(BigInt(this.state.pot))}. Divide the melt into two pots first.` : "";
    return {
      sentence: `Stop: ${above} Do not pour before it is brought back.${small}`,
      said: `The load was ${found}, above the maximum of ${load.named}.`,
      wax: this.state.batch.open && !small ? wax : null,
    };
  }

  isScent(step) {
    return step.line?.kind === "fragrance" && step.line.in_melt;
  }

  /** The fragrances of a step's pot that are too little for all the wax in it, with how much keeps the load. */
  weak(step) {
    const scents = step.reading === "pour" || !this.isScent(step) ? this.work.lines.filter((line) => line.kind === "fragrance" && line.in_melt) : [step.line];
    return scents.flatMap((line) => {
      const { drawn, target, tolerance } = line.pours[step.pour - 1];
      const needed = scentFor(this.state, this.work, line, step.pour);
      if (needed === null || drawn >= needed - tolerance) return [];
      const shown = (amount) => writeAmount(amount, line.unit, this.division);
      const sentence = `More wax is in the pot than planned: ${shown(needed)} of ${line.name} keep the load, not ${shown(target)}.`;
      return [{ line, sentence, rest: { amount: needed - drawn, words: shown(needed - drawn) } }];
    });
  }

  flashWords(line, temperature) {
    const shown = (figure) => writeTemperature(figure, this.state.scale);
    return `The melt is at ${shown(temperature)}, at or above the flash point of ${line.name}, ${shown(line.flash)}: its vapour can catch fire. Let it cool; no flame or hot element near the pot.`;
  }

  paintStop() {
    fill("stop", this.stop, this.stop && notice("problem", this.stop.sentence, ...(this.stop.presses ?? []).map(([words, act]) => press(words, act))));
  }

  /** What was read at a step, in words; "" before. */
  readOf(step) {
    const read = ofPot(this.work.readings, step.reading, step.pour);
    return read ? writeTemperature(read.temperature, this.state.scale) : "";
  }

  // ---- Lists -------------------------------------------------------------------------------------------------------

  /** What is listed: every step, or with many pots those of the pot one is at and each other pot in one line, with the
   *  step a press leads to. */
  listed() {
    const all = this.steps.map((step) => ({ step, id: step.id, name: this.named(step), said: this.standing(step), mark: this.mark(step) }));
    if (this.state.pours.length <= POTS_IN_FULL) return all;
    const here = this.step?.pour;
    const others = new Set();
    return all.flatMap((row) => {
      const { pour, pots } = row.step;
      if (pots === 1 || pour === here) return [row];
      if (others.has(pour)) return [];
      others.add(pour);
      const steps = this.steps.filter((step) => step.pour === pour && step.pots > 1);
      const open = steps.filter((step) => !step.done);
      const marks = steps.map((step) => this.mark(step));
      const wrong = marks.find((mark) => !/good|plain/.test(mark.className));
      const mark = wrong ?? marks.at(open.length ? steps.indexOf(open[0]) : 0);
      return [{ step: open[0] ?? steps[0], id: `pour:${pour}`, name: `Pour ${pour}`, said: `${steps.length - open.length} of ${steps.length}`, mark }];
    });
  }

  /** How far a step is, in figures. */
  standing(step) {
    if (step.kind === "read") return this.readOf(step);
    if (step.kind !== "line") return "";
    const { target, drawn, tolerance } = step.line.pours[step.pour - 1];
    const { unit } = step.line;
    if (!drawn) return writeAmount(target, unit);
    const words = `${writeAmount(drawn, unit)} of ${writeAmount(target, unit)}`;
    return besideTarget({ target, drawn, tolerance }) === "over" ? `${words}, ${writeAmount(drawn - target, unit)} over` : words;
  }

  paintLists() {
    const rows = this.listed();
    fill("steps", rows.map(({ id, name, said, mark, step }) => [id, name, mark.textContent, said, step.id, id === this.place.step]),
      rows.map(({ id, name, said, mark, step }) => make("li", { "aria-current": id === this.place.step ? "step" : null },
        make("button", { type: "button", class: "bench-to", "data-same": id, on: { click: () => this.goTo(step.id) } },
          make("span", { class: "bench-to-name" }, name),
          make("span", { class: "muted" }, said),
          mark))));
    const saved = this.state.entries.slice(0, 30);
    fill("entries", saved.map((entry) => [entry.key, entry.fate]), saved.map((entry) => make("li", {},
      make("span", {}, `${entry.words}${this.whichPour(entry)}`), make("span", { class: "muted" }, `${entry.by}, ${new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" })}${entry.fate ? `, ${entry.fate}` : ""}`))),
    saved.length ? null : make("li", { class: "muted" }, "Nothing yet."));
    // A state that was kept on the device may be of an older page.
    const { word = "", cautions = [], always = [], batch } = this.state;
    fill("mind", [word, cautions], word && notice("attention", word),
      cautions.length ? notice("attention", cautions.map((sentence) => make("span", { class: "bench-caution" }, sentence))) : null);
    say("notes", batch.notes);
    fill("always", always, always.map((sentence) => make("li", {}, sentence)));
  }

  /** Which pot an entry is of, where there are several. */
  whichPour(entry) {
    const weighed = this.state.lines.find((line) => line.id === entry.line)?.in_melt;
    const read = this.state.readings.some((reading) => reading.entry === entry.key && reading.kind !== "room");
    const several = this.state.pours.length > 1 && (weighed || read || entry.note_kind === "stirred");
    return several && entry.pour ? `, pour ${entry.pour}` : "";
  }

  /** Whether a fragrance went over so far that wax brings it back. */
  needsWax(step) {
    return Boolean(step.done && this.isScent(step) && this.isOver(step) && this.potLoad(step.pour)?.wax);
  }

  /** How far a step is, with its mark. */
  mark(step) {
    if (this.needsWax(step)) return make("span", { class: "state problem" }, "Too much");
    if (step.done && step.line?.basis === "wax_share" && this.weak(step).length) return make("span", { class: "state attention" }, "More");
    if (step.done) return make("span", { class: "state good" }, "Done");
    return make("span", { class: "state plain" }, step.optional ? "If you like" : "Open");
  }
}
