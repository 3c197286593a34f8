/* The bench: one thing at a time, from the wax to the pour. What is entered goes to the device first and then to the
   studio; see bench_store.js and bench_sender.js. */

import { spaced } from "./bench_codes.js";
import { besideTarget, isFarTooMuch, netOf, typed } from "./bench_figures.js";
import { listen } from "./bench_keys.js";
import { Lots } from "./bench_lots.js";
import { Scale, canRead } from "./bench_scale.js";
import { agreed, clock, part, say, show, smaller } from "./bench_screen.js";
import { Sender } from "./bench_sender.js";
import { nextOpen, stepsOf, withWaiting } from "./bench_steps.js";
import { Store } from "./bench_store.js";
import { entryText, readAmount, writeTemperature } from "./bench_sums.js";

const MINUTE_MS = 60000;
// What belongs to one step alone: a weight, its lot, and the unit it is read in.
const NOTHING = { gross: "", tare: "", field: "gross", lot: null, source: "keypad", key: null, unit: "", scale: null };

class Bench extends Lots {
  constructor(state, store) {
    super();
    this.store = store;
    this.sender = new Sender(store, state, () => this.paint());
    this.known = new Map();
    this.said = "";
    this.told = new Set();
    this.place = this.lastPlace();
    this.division = BigInt(state.division);
  }

  get state() {
    return this.sender.state;
  }

  // ---- Where one is: kept on the device, so that a reload goes on where it was -------------------------------------

  get placeName() {
    return `bench-place-${this.sender.user.id}-${this.state.batch.code}`;
  }

  lastPlace() {
    const fresh = { step: null, ...NOTHING, extras: {}, timers: {} };
    try {
      return { ...fresh, ...JSON.parse(localStorage.getItem(this.placeName)) };
    } catch {
      return fresh;
    }
  }

  set(change) {
    Object.assign(this.place, change);
    try {
      localStorage.setItem(this.placeName, JSON.stringify(this.place));
    } catch {
      // Then a reload begins at the first open step.
    }
    this.paint();
  }

  goTo(id, more = {}) {
    this.stop = null;
    // The next lot of the same material is weighed in the same unit; the next material begins in its own.
    const { unit, scale } = id === this.place.step ? this.place : NOTHING;
    this.set({ step: id, ...NOTHING, unit, scale, ...more });
    part("name").focus({ preventScroll: true });
    part("step").scrollIntoView({ block: "nearest" });
    // Beside a long list the step is taller than the screen and counts as in sight; its name and cautions are to be.
    part("name").scrollIntoView({ block: "nearest" });
  }

  /** The step one was at is gone: what stood on its scale is not taken along to another. */
  leave(id) {
    Object.assign(this.place, { step: id, ...NOTHING });
  }

  // ---- What is on the scale ----------------------------------------------------------------------------------------

  get unit() {
    const line = this.step?.line;
    if (!line) return "g";
    if (line.dimension !== "mass") return line.unit;
    return this.place.unit || line.unit;
  }

  get gross() {
    return this.place.gross === "" ? null : readAmount(this.place.gross, this.unit);
  }

  get tare() {
    return this.place.tare === "" ? 0n : readAmount(this.place.tare, this.unit);
  }

  /** What left the lot, in base units; null while nothing usable is entered. */
  get net() {
    return netOf(this.gross, this.tare, this.step.line.dimension === "mass");
  }

  lots() {
    const seen = new Map(this.state.lots.map((lot) => [lot.id, lot]));
    for (const lot of this.known.values()) if (!seen.has(lot.id)) seen.set(lot.id, lot);
    return seen;
  }

  /** What a lot holds by the books, less what waits. */
  onHand(lot) {
    const waits = this.store.outbox.filter((each) => each.content.kind === "draw" && each.content.lot === lot.id && !each.refusal);
    return waits.reduce((left, each) => left - BigInt(each.content.quantity), BigInt(lot.on_hand));
  }

  // ---- Entering ----------------------------------------------------------------------------------------------------

  ready() {
    if (this.step?.kind === "read") return this.temperature() !== null;
    return this.step?.kind === "line" && this.lot() !== null && this.net !== null && this.net > 0n && !this.moving;
  }

  key(char) {
    if (!this.step || this.step.kind === "time" || (this.step.kind === "line" && !this.lot())) return;
    const field = this.step.kind === "read" || this.step.line.dimension !== "mass" ? "gross" : this.place.field;
    const text = typed(this.place[field], char, this.place.prefilled || (field === "gross" && this.place.source === "scale"));
    this.moving = false;
    this.scaleSays = this.stop = null;
    this.set({ [field]: text, prefilled: false, source: field === "gross" ? "keypad" : this.place.source });
  }

  async record() {
    if (!this.ready() || !this.state.batch.open || this.asking) return;
    if (this.step.kind === "read") {
      const read = this.temperature();
      const stop = this.step.reading === "pour" && this.potStop();
      if (stop && !(await this.askOnce("The load is above the maximum, and such a candle is not safe to burn. Was it poured all the same?", "Yes, it was poured"))) return;
      const words = { melt: "Wax at its hottest", fragrance: "Fragrance added at", pour: "Poured at", room: "Room" }[this.step.reading];
      const content = { kind: "reading", reading: this.step.reading, temperature: String(read), pour: this.step.pour };
      // The answer is kept with the reading: what was poured above a maximum is never silent.
      if (stop) content.poured_above = stop.said.slice(0, 400);
      await this.enter(content, `${words}: ${writeTemperature(read, this.state.scale)}`);
      return;
    }
    this.asking = true;
    try {
      await this.recordWeight();
    } finally {
      this.asking = false;
    }
  }

  /** A question that a second press does not ask again. */
  async askOnce(question, yes) {
    this.asking = true;
    try {
      return await agreed(question, yes);
    } finally {
      this.asking = false;
    }
  }

  async recordWeight() {
    const { line, pour } = this.step;
    const lot = this.lot();
    // As they stand when it is pressed: a scale goes on while a question is answered.
    const { gross, tare, net } = this;
    const { source, key } = this.place;
    const mass = line.dimension === "mass";
    const wanted = this.wanted();
    const holds = this.onHand(lot) > 0n ? this.onHand(lot) : 0n;
    const books = net > holds ? `By the books lot ${spaced(lot.code)} holds ${this.shown(holds)}.` : "";
    if (isFarTooMuch(net, wanted, this.division)) {
      if (!(await agreed(`${this.shown(net)} is far more than the ${this.shown(wanted)} still to go. ${books} Did you mean ${this.shown(net)}?`, `Yes, ${this.shown(net)}`))) return;
    }
    const missing = books && this.shown(net - holds);
    if (missing && !(await agreed(`${books} If the scale is right, ${missing} are booked as found and marked to be looked at.`, `Book ${missing} as found`))) return;
    const content = { kind: "draw", line: line.id, pour, lot: lot.id, quantity: String(net), seen: String(line.pours[pour - 1].drawn), source: mass ? source : "keypad", found: missing ? "true" : null };
    if (mass) Object.assign(content, { gross: String(gross), tare: String(tare) });
    const extras = { ...this.place.extras };
    delete extras[this.extraName(line, pour)];
    this.place.extras = extras;
    await this.enter(content, `${this.shown(net)} of ${line.name} from ${spaced(lot.code)}`, key);
  }

  /** Keep an entry on the device, then send it; on to what is open next where this is done. */
  async enter(content, words, key = null) {
    const entry = {
      key: key ?? newKey(), batch: this.state.batch.code, by: this.sender.user, at: Date.now(), seq: this.store.nextNumber(),
      tries: 0, content, words, photo: content.photo ?? null, refusal: null,
    };
    delete content.photo;
    const here = this.step?.id;
    await this.store.keep(entry);
    this.said = "";
    this.work = withWaiting(this.state, this.store.outbox);
    this.steps = stepsOf(this.state, this.work);
    const step = this.steps.find((each) => each.id === here);
    if (content.kind === "draw" || content.kind === "reading" || content.seconds !== undefined) {
      const more = Object.keys(this.place.extras)[0];
      const overNow = step && this.needsWax(step);
      const next = more ? this.steps.find((each) => each.line && this.extraName(each.line, each.pour) === more)?.id : nextOpen(this.steps, here);
      if (step && step.done && !overNow) this.goTo(next ?? here);
      else if (overNow) this.set({ gross: "", tare: "", source: "keypad", key: null });
      else this.goTo(here);
    }
    this.paint();
    this.sender.go();
  }

  isOver(step) {
    return besideTarget(step.line.pours[step.pour - 1]) === "over";
  }

  // ---- Taking back, and what was refused ---------------------------------------------------------------------------

  lastEntry() {
    const gone = new Set(this.store.outbox.map((entry) => entry.content.takes_back).filter(Boolean));
    const waits = this.sender.mine.filter((entry) => entry.batch === this.state.batch.code && entry.content.kind !== "undo" && !gone.has(entry.key));
    if (waits.length) return { ...waits.at(-1), unsent: waits.at(-1).tries === 0 };
    const saved = this.state.entries.find((entry) => entry.stands && entry.kind !== "undo" && !gone.has(entry.key));
    if (!saved) return null;
    // Somebody else may be at the same pot.
    return saved.by === this.state.user.name ? saved : { ...saved, words: `${saved.words}, by ${saved.by}` };
  }

  async undo() {
    const last = this.lastEntry();
    if (!last) return;
    // That a pot was poured above a maximum is never unsaid: it goes to the studio before its temperature is taken back.
    const poured = last.poured_above || last.content?.poured_above;
    const stays = poured ? " That the pot was poured above the maximum stays on record, and the owner decides about it." : "";
    if (!(await agreed(`Take back ${last.words}?${stays}`, "Take it back"))) return;
    // Asked anew: it may have been sent while the question stood.
    await this.store.reload();
    const now = this.store.outbox.find((entry) => entry.key === last.key);
    if (now && now.tries === 0 && !this.sender.busy && !poured) await this.store.drop(last.key);
    else await this.enter({ kind: "undo", takes_back: last.key }, `Take back ${last.words}`);
    this.said = `Taken back: ${last.words}${stays}`;
    this.paint();
  }

  async sendAgain(entry, more) {
    await this.store.keep({ ...entry, content: { ...entry.content, ...more }, refusal: null });
    this.paint();
    this.sender.go();
  }

  /** What was weighed comes back to the scale, under the same key: it can still be saved only once. */
  async openAgain(entry) {
    const { line, pour, gross, tare, quantity } = entry.content;
    const step = this.steps.find((each) => each.line?.id === line && each.pour === (pour ?? 1));
    // It stays until what is recorded in its place has its key: what was weighed is never lost on the way.
    if (!step) return this.paint();
    const unit = step.line.dimension === "mass" ? step.line.unit : "";
    return this.goTo(step.id, {
      key: entry.key, unit, gross: entryText(BigInt(gross ?? quantity), unit || step.line.unit),
      tare: tare && tare !== "0" ? entryText(BigInt(tare), unit) : "",
    });
  }

  async throwAway(entry) {
    if (!(await agreed(`Throw away ${entry.words}? It was never saved.`, "Throw it away"))) return;
    await this.store.drop(entry.key);
    this.paint();
  }

  // ---- Notes, photos, the scale ------------------------------------------------------------------------------------

  async note() {
    const text = part("note").value.trim();
    const file = part("photo").files[0];
    if (file && !this.store.takesPhotos) {
      this.said = "This browser cannot keep photos. Write a note instead.";
      return this.paint();
    }
    if (file) await this.enter({ kind: "photo", text, photo: await smaller(file) }, text ? `Photo: ${text}` : "Photo");
    else if (text) await this.enter({ kind: "note", note_kind: "note", text }, `Note: ${text}`);
    else return this.halt("Write something, or choose a photo.");
    part("note-form").reset();
    part("note-part").open = false;
    this.said = "Kept.";
    return this.paint();
  }

  startScale() {
    if (!canRead()) return;
    show("scale", true);
    const scale = new Scale((said) => this.weighed(said), (name) => {
      say("scale-press", name ? `Scale: ${name}` : "Connect a scale");
      if (!name) this.weighed({ sentence: "The scale is gone. Use the keypad, or connect it again." });
    });
    part("scale-press").addEventListener("click", () => scale.choose().catch(() => {
      this.said = "The scale could not be opened. Unplug it and plug it in again; the keypad works meanwhile.";
      this.paint();
    }));
    scale.resume().catch(() => {});
  }

  /** Only a weight at rest is taken; while it moves, nothing can be recorded from the scale. */
  weighed({ weight, sentence }) {
    if (this.step?.kind !== "line" || this.step.line.dimension !== "mass" || !this.lot()) return;
    const field = this.place.field;
    if (sentence) {
      if (this.scaleSays === sentence) return;
      this.scaleSays = sentence;
      this.moving = this.place.source === "scale" && field === "gross";
      this.paint();
      return;
    }
    const text = entryText(weight, this.unit);
    this.scaleSays = "From the scale, at rest";
    this.moving = false;
    if (this.place[field] !== text || this.place.source !== "scale") this.set({ [field]: text, source: "scale" });
    else this.paint();
  }

  // ---- Beginning ---------------------------------------------------------------------------------------------------

  begin(root) {
    this.root = root;
    root.hidden = false;
    const on = (id, act) => part(id).addEventListener("click", act);
    const along = (by) => () => this.goTo(this.steps[this.steps.indexOf(this.step) + by].id);
    on("previous", along(-1));
    on("next", along(1));
    on("gross", () => this.set({ field: "gross" }));
    on("tare", () => this.set({ field: "tare" }));
    on("tare-now", () => this.set({ tare: this.place.gross, gross: "", field: "gross" }));
    on("record", () => this.record());
    on("undo", () => this.undo());
    on("clock-press", () => this.pressTimer());
    on("clock-drop", () => this.dropTimer());
    part("keys").addEventListener("click", (event) => {
      const { key } = event.target.closest("[data-key]")?.dataset ?? {};
      if (key) this.key(key);
    });
    part("code-form").addEventListener("submit", (event) => {
      event.preventDefault();
      const { value } = part("code");
      part("code").value = "";
      if (value.trim()) this.scanned(value);
    });
    part("note-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.note();
    });
    listen({ key: (char) => this.key(char), code: (text) => this.scanned(text), enter: () => this.record() });
    window.addEventListener("online", () => this.sender.go());
    document.addEventListener("visibilitychange", () => {
      if (document.hidden) return;
      this.sender.go();
      stayAwake();
    });
    setInterval(() => { if (!document.hidden) this.sender.go(); }, MINUTE_MS);
    stayAwake();
    this.startScale();
    this.paint();
  }
}

function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  // Plain HTTP has no randomUUID; RFC 9562, version 4.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function stayAwake() {
  navigator.wakeLock?.request("screen").catch(() => {});
}

/** The batch as the page brought it, or, where the page itself was kept, as it was last seen. */
async function newest(store, brought) {
  const kept = await store.lastState(brought.batch.code).catch(() => null);
  if (kept && kept.now >= brought.now && kept.user.id === brought.user.id) return { state: { ...kept, token: brought.token }, old: true };
  return { state: brought, old: false };
}

async function start() {
  const root = document.getElementById("bench");
  const store = await Store.open();
  const { state, old } = await newest(store, JSON.parse(root.dataset.state));
  const bench = new Bench(state, store);
  if (!("serviceWorker" in navigator)) bench.noReload = "Without a secure connection this page cannot be reloaded while the network is away. What is entered is kept all the same.";
  else navigator.serviceWorker.register(root.dataset.worker).catch(() => {});
  if (!old) await store.keepState(state);
  bench.begin(root);
  if (old || store.outbox.length) bench.sender.go();
}

start();
