/* A scale on USB, read by the open HID weighing-device standard: usage page 0x8D, usage 0x20, report 3.
   USB-IF, HID Point of Sale Usage Tables (from memory). Only a reading at rest counts. */

import { rounded } from "./bench_sums.js";

const WEIGHING = { usagePage: 0x8d };
const REPORT = 3;
const STABLE_AT_ZERO = 2;
const STABLE = 4;
const SENTENCES = {
  1: "The scale reports a fault. Switch it off and on again.",
  3: "The weight still moves. Wait until it rests.",
  5: "The scale is below zero. Tare it, or put the vessel back.",
  6: "The scale is overloaded. Take something off.",
  7: "The scale asks to be calibrated. Use the keypad meanwhile.",
  8: "The scale asks to be set to zero. Empty it and press zero.",
};
// Micrograms in a unit, exactly; what is not named here is not weighed with in a studio.
const SIZES = {
  1: [1000n, 1n],
  2: [1000000n, 1n],
  3: [1000000000n, 1n],
  11: [28349523125n, 1000n],
  12: [453592370n, 1n],
};

/** What a report says: { weight } in micrograms at rest, else { sentence }. `bytes` with or without the report's id;
 *  null when it is another report. */
export function readReport(bytes) {
  const data = bytes.length === 6 ? bytes.slice(1) : bytes;
  if (data.length !== 5 || (bytes.length === 6 && bytes[0] !== REPORT)) return null;
  const [status, unit, power, low, high] = data;
  if (status !== STABLE && status !== STABLE_AT_ZERO) {
    return { sentence: SENTENCES[status] ?? "The scale says something that is not known. Use the keypad." };
  }
  if (status === STABLE_AT_ZERO) return { weight: 0n };
  if (!(unit in SIZES)) return { sentence: "Set the scale to g, kg, oz or lb." };
  const exponent = power > 127 ? power - 256 : power;
  if (exponent < -9 || exponent > 9) return { sentence: "The scale says something that is not known. Use the keypad." };
  let [over, under] = SIZES[unit];
  if (exponent < 0) under *= 10n ** BigInt(-exponent);
  else over *= 10n ** BigInt(exponent);
  // Half to even, as what is typed: 4 oz are 113,398,092.5 µg, and are to read back as 4 oz.
  return { weight: rounded(BigInt(low + 256 * high) * over, under) };
}

/** Whether this browser can read a scale at all. */
export function canRead() {
  return Boolean(navigator.hid);
}

/** Reads whatever scale is allowed and plugged in. `heard` gets what `readReport` gives, `changed` its name or "". */
export class Scale {
  constructor(heard, changed) {
    this.heard = heard;
    this.changed = changed;
    this.device = null;
  }

  /** Take up a scale that was allowed before, and notice when one is plugged in or out. */
  async resume() {
    navigator.hid.addEventListener("disconnect", (event) => {
      if (event.device === this.device) this.leave();
    });
    navigator.hid.addEventListener("connect", (event) => {
      if (!this.device) this.listen(event.device);
    });
    const known = (await navigator.hid.getDevices()).find(isScale);
    if (known) await this.listen(known);
  }

  /** Ask the person to choose a scale; must follow a press. */
  async choose() {
    const [device] = await navigator.hid.requestDevice({ filters: [WEIGHING] });
    if (device) await this.listen(device);
  }

  async listen(device) {
    if (!isScale(device)) return;
    if (!device.opened) await device.open();
    this.device = device;
    device.addEventListener("inputreport", (event) => {
      if (event.reportId && event.reportId !== REPORT) return;
      const said = readReport(new Uint8Array(event.data.buffer, event.data.byteOffset, event.data.byteLength));
      if (said) this.heard(said);
    });
    this.changed(device.productName || "Scale");
  }

  leave() {
    this.device = null;
    this.changed("");
  }
}

function isScale(device) {
  return !device.collections?.length || device.collections.some((each) => each.usagePage === WEIGHING.usagePage);
}
