/* Keys pressed anywhere on the page. A scanner types like a keyboard and ends with Enter: what begins with anything
   but a figure is taken as a code. Figures go to the weight that is being entered. While a question stands, what is
   scanned goes nowhere, and its Enter does not answer. */

const PAUSE_MS = 2000;
const NOTHING = { key() {}, code() {}, enter() {} };

/** `handlers`: { key(char), code(text), enter() }; key gets 0-9, ".", "," and "back": what a comma means is not guessed. */
export function listen(handlers, clock = Date.now) {
  let typed = "";
  let last = 0;
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (event.target.closest?.("input, textarea, select")) return;
    const asked = Boolean(event.target.closest?.("dialog"));
    const { key, code, enter } = asked ? NOTHING : handlers;
    const now = clock();
    if (now - last > PAUSE_MS) typed = "";
    last = now;
    if (event.key === "Enter") {
      if (typed) {
        // It would press whichever button has the focus.
        event.preventDefault();
        event.stopPropagation();
        const text = typed;
        typed = "";
        code(text);
      } else if (!event.target.closest?.("button, a, summary")) enter();
    } else if (event.key === "Backspace") {
      event.preventDefault();
      if (typed) typed = typed.slice(0, -1);
      else key("back");
    } else if (event.key.length === 1 && event.key !== " ") {
      if (!typed && !asked && /[\d.,]/.test(event.key)) key(event.key);
      else typed += event.key;
    }
  }, { capture: true });
}
