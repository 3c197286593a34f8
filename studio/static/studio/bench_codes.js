/* Codes of lots and batches, judged on the device as the studio judges them: ISO/IEC 7064 MOD 37,36, and no two
   neighbours that could be swapped unseen. */

const ALPHABET = "0123456789ABCDEFGHJKLMNPQRSTUVWXYZ";
const VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const BETWEEN = /[\s\u0000-\u001f\u007f.\-\u2010\u2011\u2013\u2014\u2212]+/g;

/** A text as a code is stored: capitals, O read as 0 and I as 1, nothing in between. */
export function normalise(text) {
  return text.replace(BETWEEN, "").toUpperCase().replaceAll("O", "0").replaceAll("I", "1");
}

/** The code in groups of three. */
export function spaced(code) {
  return code.replace(/(.{3})(?=.)/g, "$1 ");
}

function checks(code) {
  let product = 36;
  for (const char of code.slice(0, -1)) product = (((product + VALUES.indexOf(char)) % 36 || 36) * 2) % 37;
  return code.at(-1) === VALUES[(37 - product) % 36];
}

function swapped(code, at) {
  return code.slice(0, at) + code[at + 1] + code[at] + code.slice(at + 2);
}

/** Whether a code, as stored, could have been given out. */
export function isValid(code) {
  if (code.length < 6 || code.length > 12 || !ALPHABET.slice(10).includes(code[0])) return false;
  if ([...code].some((char) => !ALPHABET.includes(char)) || !checks(code)) return false;
  for (let at = 0; at < code.length - 1; at += 1) {
    if (code[at] !== code[at + 1] && checks(swapped(code, at))) return false;
  }
  return true;
}

/** The code in what was scanned or typed: a code itself, or the address that a label's QR code holds. */
export function codeIn(text) {
  const address = /\/(?:lots|batches|trace)\/([^/?#]+)/.exec(text);
  return normalise(address ? address[1] : text);
}
