/* The page's parts, filled with words. Nothing here decides anything. */

export const part = (id) => document.getElementById(`bench-${id}`);

/** Set a text where it is another, so that what is read aloud is not repeated. */
export function say(id, words, look = null) {
  const element = typeof id === "string" ? part(id) : id;
  if (element.textContent !== words) element.textContent = words;
  if (look !== null && element.dataset.look !== look) element.dataset.look = look;
}

/** Show a part, or not. */
export function show(id, shown) {
  part(id).hidden = !shown;
}

/** An element with what is in it: texts and elements; `on` are its listeners. */
export function make(tag, { on = {}, ...attributes } = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value === true ? "" : value);
  }
  for (const [name, act] of Object.entries(on)) element.addEventListener(name, act);
  element.append(...inside.filter((each) => each !== null && each !== ""));
  return element;
}

/** Fill a part anew where what it shows is another; what has the focus keeps it by its `data-same`. */
export function fill(id, shown, ...inside) {
  const element = part(id);
  const mark = JSON.stringify(shown);
  if (element.dataset.shown === mark) return;
  element.dataset.shown = mark;
  const held = element.contains(document.activeElement) ? document.activeElement.dataset.same : null;
  element.replaceChildren(...inside.flat().filter(Boolean));
  if (held) element.querySelector(`[data-same="${CSS.escape(held)}"]`)?.focus();
}

/** A press with its words. */
export function press(words, act, { quiet = true, same = words, ...more } = {}) {
  const look = quiet ? "button quiet" : "button";
  return make("button", { type: "button", class: look, "data-same": same, on: { click: act }, ...more }, words);
}

/** A sentence set apart, with what can be done; `tone`: good, attention, problem or "". */
export function notice(tone, sentence, ...presses) {
  const actions = presses.filter(Boolean);
  return make(
    "div",
    { class: `notice ${tone}` },
    make("p", {}, ...[sentence].flat()),
    actions.length ? make("p", { class: "bench-presses" }, ...actions) : null,
  );
}

/** Ask before something that cannot be taken back; whether it was agreed to. */
export function agreed(question, yes) {
  const dialog = part("ask");
  part("question").textContent = question;
  part("yes").textContent = yes;
  return new Promise((resolve) => {
    let answer = false;
    part("yes").onclick = () => {
      answer = true;
      dialog.close();
    };
    part("no").onclick = () => dialog.close();
    // Told once it is shut: a question that follows at once would be shut by the end of this one.
    dialog.onclose = () => resolve(answer);
    dialog.showModal();
  });
}

/** Seconds as a clock shows them. */
export function clock(seconds) {
  const two = (number) => String(number).padStart(2, "0");
  const [hours, minutes, left] = [Math.floor(seconds / 3600), Math.floor((seconds % 3600) / 60), seconds % 60];
  return hours ? `${hours}:${two(minutes)}:${two(left)}` : `${minutes}:${two(left)}`;
}

/** A picture made small enough to be sent from a bench; as it is where the browser cannot. */
export async function smaller(file, edge = 2000) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, edge / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(image.width * scale);
    canvas.height = Math.round(image.height * scale);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return (await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85))) ?? file;
  } catch {
    return file;
  }
}
