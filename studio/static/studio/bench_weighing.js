/* Weights, counts, temperatures and times: what is to be reached, and how far it is. */

import { besideTarget, besideWindow } from "./bench_figures.js";
import { Frame } from "./bench_frame.js";
import { clock, fill, make, notice, part, press, say, show } from "./bench_screen.js";
import { bringsScent, flashing, loadOf, loadWords, meltOf, ofPot, sharedWax, windowOf, withWax } from "./bench_steps.js";
import { WEIGHTS, beyond, beyondHeat, entryText, misread, percent, readTemperature, writeAmount, writeDegrees, writeTemperature } from "./bench_sums.js";

/** A bench that shows what is on the scale. */
export class Weighing extends Frame {
  // ---- Weighing and counting ---------------------------------------------------------------------------------------

  /** What is still to come of the step, or of the wax that is added to bring a load back. */
  wanted() {
    const { line, pour } = this.step;
    const extra = this.place.extras[this.extraName(line, pour)];
    const { target, drawn } = line.pours[pour - 1];
    return extra ? BigInt(extra) : target - drawn;
  }

  extraName(line, pour) {
    return `${line.id}:${pour}`;
  }

  /** Whether the step adds wax that brings a load back. */
  get isExtra() {
    const { line, pour } = this.step;
    return Boolean(this.place.extras[this.extraName(line, pour)]);
  }

  shown(amount, line = this.step.line) {
    return writeAmount(amount, line.dimension === "mass" ? this.unit : line.unit, line.dimension === "mass" ? this.division : 0n);
  }

  paintWeighing() {
    show("fill", false);
    const { line, pour } = this.step;
    const { target, drawn, tolerance } = line.pours[pour - 1];
    const mass = line.dimension === "mass";
    const goal = this.isExtra ? `Add ${this.shown(this.wanted())} to bring the load back` : `Target ${this.shown(target)}`;
    const off = tolerance > 0n ? ` ± ${writeAmount(tolerance, mass && ["kg", "lb"].includes(this.unit) ? { kg: "g", lb: "oz" }[this.unit] : this.unit, this.division)}` : "";
    say("target", `${goal}${off}${drawn ? ` · ${this.shown(drawn)} in already` : ""}`);
    const net = this.net;
    const left = this.wanted() - (net ?? 0n);
    this.paintLeft(left, tolerance, net);
    show("weights", true);
    part("gross").hidden = false;
    part("tare").hidden = part("net").hidden = part("tare-now").hidden = !mass;
    this.figure("gross", this.place.gross, mass ? "Gross" : "Counted");
    this.figure("tare", this.place.tare || "0", "Tare");
    say(part("net").querySelector(".bench-weight-figure"), net === null ? "–" : this.shown(net));
    part("net").querySelector(".bench-weight-name").textContent = "Net";
    this.paintUnits(mass ? WEIGHTS : [], this.unit, (unit) => this.changeUnit(unit));
    this.paintLoad(net ?? 0n);
    say("record", net !== null && net > 0n ? `Record ${this.shown(net)}` : "Record");
    say("scale-says", this.place.source === "scale" || this.scaleSays ? (this.scaleSays ?? "From the scale") : "");
  }

  figure(id, text, name) {
    const button = part(id);
    button.querySelector(".bench-weight-name").textContent = name;
    say(button.querySelector(".bench-weight-figure"), `${text || "–"}${text && this.step.kind === "line" && this.unit !== "each" ? `\u00a0${this.unit}` : ""}`);
    button.setAttribute("aria-pressed", String(this.place.field === id));
  }

  paintLeft(left, tolerance, net) {
    const over = left < 0n ? -left : 0n;
    const said = (text) => misread(text) || beyond(text, this.unit);
    const wrong = net === null && (said(this.place.gross) || said(this.place.tare));
    if (wrong) say("left", wrong, "problem");
    else if (net !== null && net < 0n) say("left", "The tare is more than the gross", "problem");
    else if (net !== null && besideTarget({ target: 0n, drawn: -left, tolerance }) === "within") {
      say("left", left === 0n ? "On target" : `On target, ${this.shown(over || left)} ${over ? "over" : "under"}`, "good");
    } else if (over > 0n) say("left", `${this.shown(over)} over`, "problem");
    else say("left", left === 0n ? "Nothing to go" : `${this.shown(left)} to go`, left === 0n ? "good" : "");
  }

  paintUnits(units, chosen, act) {
    fill("units", [units, chosen], units.length < 2 ? null : units.map((unit) =>
      press(unit, () => act(unit), { "aria-pressed": String(unit === chosen), class: "bench-unit" })));
  }

  /** Another unit shows the same weights; what was typed is turned over exactly. */
  changeUnit(unit) {
    const turned = (amount) => (amount === null ? "" : entryText(amount, unit));
    this.set({ unit, gross: turned(this.gross), tare: this.place.tare === "" ? "" : turned(this.tare) });
  }

  paintLoad(net) {
    const { line, pour } = this.step;
    const scent = bringsScent(line);
    const load = line.in_melt ? loadOf(this.state, this.work, pour, line.id, net > 0n ? net : 0n) : null;
    say("load", load && scent && net + line.pours[pour - 1].drawn > 0n ? `Load ${loadWords(load)}${load.unknown && `. ${load.unknown}`}` : "");
    const { target, drawn, tolerance } = line.pours[pour - 1];
    const over = scent && load && besideTarget({ target, drawn: drawn + net, tolerance }) === "over";
    if (!over && !(load?.aboveMaximum && scent)) return fill("over", null);
    const wax = load.waxToAdd > 0n ? this.waxFor(pour, load.waxToAdd) : {};
    const waxes = Object.entries(wax).map(([id, amount]) => `${this.shown(BigInt(amount))} of ${this.work.lines.find((each) => each.id === Number(id)).name}`);
    const planned = this.state.pours[pour - 1];
    const made = withWax(this.state, load, wax);
    const vessels = made.units === null || planned === null ? "" : `, enough for ${made.units} vessels (${planned} planned)`;
    const melt = this.shown(made.melt);
    const sentence = waxes.length && !made.fits
      ? `The load is ${loadWords(load)}. ${this.tooMuch(waxes, melt)}`
      : load.waxToAdd > 0n && !waxes.length
      ? `The load is ${loadWords(load)}, and the formula has no wax without fragrance to bring it back.`
      : waxes.length
      ? `The load is ${loadWords(load)}. Add ${waxes.join(" and ")} to bring it back; the melt is then ${melt}${vessels}.`
      : load.unknown
      ? `More than planned, and whether the load is as wanted is not known. ${load.unknown} The melt is ${melt}${vessels}.`
      : `More than planned, and the load is as wanted: ${percent(load.loadOfWax)} of wax. The melt is ${melt}${vessels}.`;
    const stop = load.aboveMaximum && `Stop: the load is above the maximum of ${load.named}. Do not pour before it is brought back.`;
    // Before it is recorded it is still on the scale: less may be poured.
    const press_ = waxes.length && made.fits && net <= 0n && this.state.batch.open &&
      press("Add the wax now", () => this.addWax(pour, wax));
    return fill("over", [sentence, stop, Boolean(press_)],
      stop && notice("problem", stop), notice("attention", net > 0n && waxes.length ? `${sentence} Or take some out before you record it.` : sentence, press_));
  }

  /** What is said where the pot does not take the wax that would bring its load back. */
  tooMuch(waxes, melt) {
    const takes = this.shown(BigInt(this.state.pot));
    return `${waxes.join(" and ")} would bring it back, and the melt would then be ${melt}; the pot takes ${takes}. Divide the melt into two pots first.`;
  }

  /** How much of each wax, in whole steps of the scale: by line's key. */
  waxFor(pour, waxToAdd) {
    return sharedWax(this.work, pour, waxToAdd, this.division);
  }

  /** More of a fragrance than planned, because more wax went in. */
  addScent(line, pour, amount) {
    const extras = { ...this.place.extras, [this.extraName(line, pour)]: String(amount) };
    if (this.step.line?.id === line.id) return this.set({ extras });
    return this.goTo(this.steps.find((step) => step.line?.id === line.id && step.pour === pour).id, { extras });
  }

  addWax(pour, wax) {
    const extras = { ...this.place.extras };
    for (const [id, amount] of Object.entries(wax)) extras[`${id}:${pour}`] = amount;
    const step = this.steps.find((each) => each.pour === pour && each.line && String(each.line.id) in wax);
    this.goTo(step.id, { extras });
  }

  // ---- Temperatures and times --------------------------------------------------------------------------------------

  paintReading() {
    const { reading } = this.step;
    const [low, high] = windowOf(this.state.process, reading);
    const shown = (figure) => writeTemperature(figure, this.place.scale ?? this.state.scale);
    const goal = low === null && high === null ? "" : low === null || high === null || low === high ? shown(low ?? high) : `${shown(low)} to ${shown(high)}`;
    const doing = { melt: "Heat to", fragrance: "Add the fragrance at", pour: "Pour at", room: "How warm is the room?" }[reading];
    const read = this.temperature();
    const before = ofPot(this.work.readings, reading, this.step.pour);
    say("target", read === null ? doing : `${doing} ${goal}`);
    const wrong = read === null && (misread(this.place.gross) || beyondHeat(this.place.gross, this.place.scale ?? this.state.scale));
    if (read === null) say("left", wrong || goal, wrong ? "problem" : "");
    else if (!goal) say("left", shown(read), "");
    else this.paintBeside([low, high], read);
    this.paintFill();
    say("load", before ? `${shown(before.temperature)} was read before.` : "Read the thermometer.");
    show("weights", true);
    part("tare").hidden = part("net").hidden = part("tare-now").hidden = true;
    this.figure("gross", this.place.gross, "Temperature");
    say(part("gross").querySelector(".bench-weight-figure"), this.place.gross ? `${this.place.gross}\u00a0°${this.place.scale ?? this.state.scale}` : "–");
    this.paintUnits(["°C", "°F"], `°${this.place.scale ?? this.state.scale}`, (unit) => this.set({ scale: unit[1], gross: "" }));
    say("record", read === null ? "Record" : `Record ${shown(read)}`);
    say("scale-says", "");
    // Wax alone may be hotter: it matters where the fragrance is about to go in, or is in already.
    const near = (line) => reading === "fragrance" || line.pours[this.step.pour - 1].drawn > 0n;
    const hot = read === null || reading === "pour" || reading === "room" ? [] : flashing(this.work, read).filter(near);
    fill("over", [hot.map((line) => line.id), String(read)], hot.map((line) => notice("attention", this.flashWords(line, read))));
  }

  /** The pourer's one number; and what the melt fills where it is another weight than planned. */
  paintFill() {
    const { fill: each, fill_unit: unit } = this.state;
    const pours = this.step.reading === "pour" && each !== null;
    show("fill", pours);
    if (!pours) return;
    // A state that was kept on the device may be of an older page.
    const shown = (amount) => writeAmount(BigInt(amount), unit ?? "g", this.division);
    const pot = meltOf(this.state, this.work, this.step.pour);
    const planned = this.state.pours[this.step.pour - 1];
    const lost = this.state.loss ? ` with ${percent([BigInt(this.state.loss), 1000000n])} lost` : "";
    const more = pot?.off ? ` The melt weighs ${shown(pot.melt)}, ${shown(pot.planned)} was planned: it fills ${pot.units} at that weight${lost}${planned ? `, ${planned} planned` : ""}.` : "";
    fill("fill", [each, more], make("strong", {}, `Fill each to ${shown(each)}.`), more && make("span", {}, more));
  }

  paintBeside(aimed, read) {
    const { word, off } = besideWindow(aimed, read);
    const by = writeDegrees(off, this.place.scale ?? this.state.scale);
    const [said, look] = {
      in: ["In the window", "good"],
      above: [`${by} above the window`, "problem"],
      below: [`${by} below the window`, "problem"],
      at: ["At its aim", "good"],
      over: [`${by} above`, ""],
      under: [`${by} below`, ""],
    }[word];
    say("left", said, look);
  }

  temperature() {
    return this.step?.kind === "read" ? readTemperature(this.place.gross, this.place.scale ?? this.state.scale) : null;
  }

  paintTimer() {
    const { id, seconds } = this.step;
    const began = this.place.timers[id];
    const passed = began ? Math.max(0, Math.floor((Date.now() - began) / 1000)) : 0;
    const left = seconds - passed;
    say("clock", began ? (left > 0 ? `${clock(left)} to go` : `${clock(passed)}: time is up`) : clock(seconds), began && left <= 0 ? "good" : "");
    say("clock-goal", `${this.step.name} for ${clock(seconds)}${seconds >= 3600 ? " hours" : " minutes"}${this.step.done ? " · done before" : ""}`);
    say("clock-press", began ? (left > 0 ? `Record ${clock(passed)} and go on` : `Done: record ${clock(passed)}`) : "Start the time");
    show("clock-drop", Boolean(began));
    part("clock-press").disabled = !this.state.batch.open;
  }

  pressTimer() {
    const { id, note } = this.step;
    const began = this.place.timers[id];
    if (!began) return this.set({ timers: { ...this.place.timers, [id]: Date.now() } });
    const seconds = Math.max(0, Math.floor((Date.now() - began) / 1000));
    this.dropTimer();
    const words = note === "stirred" ? "Stirred" : "Rested";
    return this.enter({ kind: "note", note_kind: note, seconds, pour: this.step.pour }, `${words}: ${clock(seconds)}`);
  }

  dropTimer() {
    const timers = { ...this.place.timers };
    delete timers[this.step.id];
    this.set({ timers });
  }
}
